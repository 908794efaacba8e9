"""Off-axis wood: how stretching and bending twist a section whose fibres run out.

S. G. Lekhnitskii, Theory of Elasticity of an Anisotropic Body (from memory): a homogeneous bar of
any section under axial force and bending has the stress ``sigma_11`` alone, so its strains are the
first column of the compliance.  R. M. Jones, Mechanics of Composite Materials (from memory):
lamination theory of wide strips, reached from a section as width over thickness grows.
"""

import itertools

import numpy as np
import pytest

from limbfe.frames import rotate_stiffness
from limbfe.section import integration_points, mapped_mesh, section_mesh, section_stiffness
from limbfe.stave.profile import SectionShapes
from limbfe.wood.elasticity import Elasticity, stiffness

WOOD = stiffness(
    Elasticity(
        E_L=11.8e9,
        E_R=1.5e9,
        E_T=0.8e9,
        G_LR=1.1e9,
        G_LT=0.75e9,
        G_RT=0.25e9,
        nu_LR=0.37,
        nu_LT=0.45,
        nu_RT=0.6,
    )
)
STRAIGHT = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])  # columns L, R (up), T


def turned(sideways, run_out=0.0):
    """Wood whose fibres go to +y by `sideways` and up by `run_out` going along +x (rad)."""
    c, s = np.cos(sideways), np.sin(sideways)
    about_z = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    c, s = np.cos(run_out), np.sin(run_out)
    about_y = np.array([[c, 0, -s], [0, 1.0, 0], [s, 0, c]])
    return rotate_stiffness(WOOD, about_z @ about_y @ STRAIGHT)


def strip(width, layers, columns=24, rows=3):
    """A mesh of layers (thickness from the belly up), its middle at the origin."""
    edges = np.concatenate([[0.0], np.cumsum(layers)]) - sum(layers) / 2
    up = np.concatenate(
        [np.linspace(a, b, rows + 1)[:-1] for a, b in itertools.pairwise(edges)] + [edges[-1:]]
    )
    u = np.linspace(0, 1, columns + 1)
    across = width * (0.1 * (u - 0.5) - 0.45 * np.cos(np.pi * u))
    return mapped_mesh(lambda y, z: (y, z), across, up)


def test_homogeneous_off_axis_section_of_a_limb():
    """Every compliance that N, My and Mz alone bring out, exact for any outline.

    With sigma = N/A + z My/I_y - y Mz/I_z about principal axes: stretch and bending S_11, shears
    S_16 and S_15 per N, twist -S_16/2 per My/I_y and -S_15/2 per Mz/I_z.  Fibres to the right
    (+y) make S_16 negative, so bending that puts the back in tension (My > 0) twists the limb
    towards +kappa_x.
    """
    C = turned(0.21, 0.13)
    S = np.linalg.inv(C)
    assert S[0, 5] < 0
    one = np.ones(1)
    shapes = SectionShapes(
        x=0 * one,
        width=0.031 * one,
        thickness=0.019 * one,
        sapwood=0.004 * one,
        lean=0.1 * one,
        backing=0 * one,
        crown=0.05,
        belly="round",
        belly_corner=0.0,
    )
    mesh = section_mesh(shapes)
    F = section_stiffness(mesh, C, one).compliance[0]
    points, w = integration_points(mesh)
    z, y, w = points[0, ..., 1], points[0, ..., 0], w[0]
    A, zc = w.sum(), (w * z).sum() / w.sum()
    I_y, I_z = (w * (z - zc) ** 2).sum(), (w * y * y).sum()
    about_centre = np.eye(6)
    about_centre[4, 0], about_centre[3, 1] = zc, -zc
    F = about_centre.T @ F @ about_centre
    expected = np.zeros((6, 3))
    expected[:3, 0] = S[0, [0, 5, 4]] / A
    expected[3:5, 1] = [-0.5 * S[0, 5] / I_y, S[0, 0] / I_y]
    expected[[3, 5], 2] = [-0.5 * S[0, 4] / I_z, S[0, 0] / I_z]
    assert expected[3, 1] > 0
    scale = np.sqrt(np.outer(np.diag(F), np.diag(F)[[0, 4, 5]]))
    rows = [0, 3, 4, 5]
    # curved elements hold the quadratic warping to about 1e-6
    assert F[:, [0, 4, 5]][rows] / scale[rows] == pytest.approx(
        expected[rows] / scale[rows], abs=3e-6
    )
    assert F[1:3, 0] == pytest.approx(expected[1:3, 0], rel=1e-6)


def lamination(layers, angles):
    """Compliance of [N_x, M_xy, M_x] with N_y, N_xy and M_y free, per width (plane stress)."""
    edges = np.concatenate([[0.0], np.cumsum(layers)]) - sum(layers) / 2
    A, B, D = np.zeros((3, 3)), np.zeros((3, 3)), np.zeros((3, 3))
    for bottom, top, angle in zip(edges, edges[1:], angles, strict=False):
        S = np.linalg.inv(turned(angle))
        Q = np.linalg.inv(S[np.ix_([0, 1, 5], [0, 1, 5])])
        A += Q * (top - bottom)
        B += Q * (top**2 - bottom**2) / 2
        D += Q * (top**3 - bottom**3) / 3
    inverse = np.linalg.inv(np.block([[A, B], [B, D]]))
    keep = [0, 5, 3]
    return inverse[np.ix_(keep, keep)]


LAYERS, ANGLES = [0.0011, 0.0029], [0.35, -0.15]


def laminate_errors(ratio):
    """Errors of the 6x6 against lamination theory for a strip `ratio` times as wide as thick.

    With w the deflection towards +z, kappa_y = -w,xx and the twist kappa_x = w,xy, so
    M_x = My / b, kappa_xy = -2 w,xy = -2 kappa_x and the torque is T = -2 b M_xy.
    """
    thickness = sum(LAYERS)
    width = ratio * thickness
    mesh = strip(width, LAYERS)
    points, _ = integration_points(mesh)
    lower = points[..., 1] < LAYERS[0] - thickness / 2
    C = np.where(lower[..., None, None], turned(ANGLES[0]), turned(ANGLES[1]))
    F = section_stiffness(mesh, C, np.ones(1)).compliance[0]
    a = lamination(LAYERS, ANGLES)
    # each pair: force per N_x, M_xy or M_x, strain per eps_x, kappa_xy or kappa_x
    unit = np.array([1.0, -0.5, 1.0])
    expected = a * np.outer(unit, unit) / width
    found = F[np.ix_([0, 3, 4], [0, 3, 4])]
    return found / expected - 1.0


def test_unsymmetric_laminate_with_the_signs_of_its_couplings():
    """Bend-twist, stretch-twist and stretch-bend terms, layers of unequal thickness."""
    narrow, wide = laminate_errors(10.0), laminate_errors(40.0)
    assert np.abs(wide).max() < 0.015
    # edge effects reach a thickness or so in, so the error falls as one over the width
    assert wide.ravel() / narrow.ravel() == pytest.approx(0.25, abs=0.02)
