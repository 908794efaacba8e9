"""Observed order of the section elements.

Energies of quadratic elements converge with the fourth power of the element size as long as the
solution is smooth (G. Strang and G. J. Fix, An Analysis of the Finite Element Method, 1973; from
memory).  Where a soft knot meets the free surface or another layer the stress is weakly singular
and the order is about twice its exponent, near 2; where a boundary crosses elements it is 1.
"""

import numpy as np
import pytest

from limbfe.section import (
    bending_stiffness,
    integration_points,
    section_mesh,
    section_stiffness,
    torsion_stiffness,
)
from limbfe.stave.outline import sapwood_z
from limbfe.stave.profile import SectionShapes

FINENESS = np.array([0.5, 1.0, 2.0])


def isotropic(E, nu):
    lame, G = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))
    C = np.diag([2 * G] * 3 + [G] * 3)
    C[:3, :3] += lame
    return C


def shapes(belly, crown=np.inf, lean=0.0, sapwood=0.3, width=2.0, thickness=1.0):
    one = np.ones(1)
    return SectionShapes(
        x=0 * one,
        width=width * one,
        thickness=thickness * one,
        sapwood=sapwood * thickness * one,
        lean=lean * one,
        backing=0 * one,
        crown=crown,
        belly=belly,
        belly_corner=0.0,
    )


def order(errors):
    return -np.polyfit(np.log(FINENESS), np.log(np.abs(errors)), 1)[0]


def torsion_errors(given, exact):
    C = isotropic(2.6, 0.3)
    GJ = [
        torsion_stiffness(section_stiffness(section_mesh(given, fineness=f), C, np.ones(1)))[0]
        for f in FINENESS
    ]
    return np.array(GJ) / exact - 1.0


@pytest.mark.parametrize(
    ("given", "exact"),
    [
        # J of a 2 x 1 rectangle, Saint-Venant series; its corners cost a logarithm
        (shapes("flat"), 2 * 0.2286816771170796),
        # semicircle, closed form
        (shapes("round"), np.pi / 2 - 4 / np.pi),
        # half ellipse of depth 0.5, bounded Ritz series
        (shapes("round", thickness=0.5), 0.0453811677974469),
    ],
)
def test_torsion_of_one_wood_converges_with_fourth_order(given, exact):
    errors = torsion_errors(given, exact)
    assert (errors > 0).all()  # a stiffness found from displacements is too high
    assert 3.5 < order(errors) < 4.5


def test_bending_of_a_curved_outline_converges_with_fourth_order():
    """Only the outline's curve is approximated; both second moments are closed forms."""
    exact = [np.pi / 8 - 8 / (9 * np.pi), np.pi / 8]
    errors = []
    for f in FINENESS:
        mesh = section_mesh(shapes("round"), fineness=f)
        EI = bending_stiffness(section_stiffness(mesh, isotropic(1.0, 0.0), np.ones(1)))[0]
        errors.append(np.diag(EI) / exact - 1.0)
    for axis in range(2):
        assert 3.7 < order(np.array(errors)[:, axis]) < 4.7


def solve(given, f, wood, breaks=None, points_a_side=3):
    mesh = section_mesh(given, fineness=f, y_breaks=breaks, order=points_a_side)
    points, _ = integration_points(mesh)
    return section_stiffness(mesh, wood(given, points[..., 0], points[..., 1]), np.ones(1))


def diagonal_errors(given, wood, breaks=None, points_a_side=3, fine=5.0, fine_breaks=None):
    """Relative errors of the compliances against a much finer mesh, shape (levels, 6)."""
    reference = solve(given, fine, wood, fine_breaks).compliance[0]
    found = [solve(given, f, wood, breaks, points_a_side).compliance[0] for f in FINENESS]
    return np.array([np.diag(F) / np.diag(reference) - 1.0 for F in found])


def two_woods(given, y, z):
    """Sapwood less stiff by a fifth, shear more, ratio of both directions unlike."""
    heart = np.diag([12.0, 1.4, 0.9, 0.25, 0.8, 1.1])
    sap = np.diag([9.6, 1.5, 0.8, 0.22, 0.9, 0.8])
    return np.where((z > sapwood_z(given, y))[..., None, None], sap, heart)


def test_leaning_sapwood_converges():
    """Fourth order but for torsion.

    Where two woods of unlike shear moduli meet the surface at a slant, the shear stress is weakly
    singular.
    """
    given = shapes("round", crown=1.7, lean=0.12)
    errors = diagonal_errors(given, two_woods)
    assert np.abs(errors[1]).max() < 6e-5
    for k in range(6):
        assert order(errors[:, k]) > (2.5 if k == 3 else 3.4)


KNOT = np.array([[[-0.2, -0.33], [0.28, 0.21]]])  # y on belly and back of both sides


def knotty(given, y, z):
    """A live knot from belly to back: soft along the limb; rectangle, so its sides are straight."""
    share = (z + 0.5) / 1.0
    left, right = (k[0] + (k[1] - k[0]) * share for k in KNOT[0])
    knot = isotropic(2.4, 0.3)
    inside = (y > left) & (y < right)
    return np.where(inside[..., None, None], knot, two_woods(given, y, z))


def test_knot_followed_by_columns_converges():
    given = shapes("flat", lean=0.05)
    errors = diagonal_errors(given, knotty, KNOT, fine_breaks=KNOT)
    assert np.abs(errors[1]).max() < 2e-4
    for k in range(6):
        assert order(errors[:, k]) > 1.8


def test_knot_across_elements_needs_more_integration_points():
    """First order in the spacing of the points, so columns are the better way."""
    given = shapes("flat", lean=0.05)
    coarse = diagonal_errors(given, knotty, None, 3, fine_breaks=KNOT)
    dense = diagonal_errors(given, knotty, None, 9, fine_breaks=KNOT)
    followed = diagonal_errors(given, knotty, KNOT, 3, fine_breaks=KNOT)
    worst = [np.abs(e).max(axis=1).mean() for e in (coarse, dense, followed)]
    assert worst[1] < 0.6 * worst[0]
    assert worst[2] < 0.2 * worst[1]
