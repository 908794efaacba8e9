"""G. R. Cowper, The Shear Coefficient in Timoshenko's Beam Theory, J. Appl. Mech. 33 (1966).

Closed forms from memory; they are reproduced by an independent Ritz flexure solution.  Cowper
divides the shear force by the mean shear *deflection* (mean displacement against mean rotation of
the section), a 6x6 matrix by the shear *energy*; the two differ once Poisson's ratio is not zero,
and both are checked here from one warping field.  Energy factors: the same Ritz solution,
recomputed; at nu = 0 they are Cowper's.
"""

import numpy as np
import pytest

from limbfe.section import integration_points, mapped_mesh, section_mesh, section_stiffness
from limbfe.section.kinematics import reference_rule
from limbfe.stave.profile import SectionShapes


def isotropic(E, nu):
    lame, G = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))
    C = np.diag([2 * G] * 3 + [G] * 3)
    C[:3, :3] += lame
    return C


def rectangle(width, thickness):
    return mapped_mesh(
        lambda y, z: (width / 2 * y, thickness / 2 * z),
        np.linspace(-1, 1, 17),
        np.linspace(-1, 1, 15),
    )


def ellipse(a, b):
    return mapped_mesh(
        lambda u, v: (a * u * np.sqrt(1 - v * v / 2), b * v * np.sqrt(1 - u * u / 2)),
        np.linspace(-1, 1, 17),
        np.linspace(-1, 1, 17),
    )


def half_ellipse(half, depth):
    one = np.ones(1)
    return section_mesh(
        SectionShapes(
            x=0 * one,
            width=2 * half * one,
            thickness=depth * one,
            sapwood=0.4 * depth * one,
            lean=0 * one,
            backing=0 * one,
            crown=np.inf,
            belly="round",
            belly_corner=0.0,
        ),
        fineness=1.5,
    )


def energy_and_cowper(mesh, nu, E=5.0):
    """Energy factor alpha = 1 / kappa and Cowper's kappa for a shear along z."""
    solution = section_stiffness(mesh, isotropic(E, nu), np.ones(1))
    points, weights = integration_points(mesh)
    z, w = points[0, ..., 1], weights[0]
    area = w.sum()
    z = z - (w * z).sum() / area
    _, values, _ = reference_rule(9, mesh.order)
    warping = values @ solution.warping[0, :, :, 2][mesh.elements]
    slope = values @ solution.warping_slope[0, :, :, 2][mesh.elements]
    # mean of dw/dx against the mean rotation of the warped section, both per unit V
    deflection = (w * slope[..., 2]).sum() / area
    rotation = (w * z * warping[..., 0]).sum() / (w * z * z).sum()
    GA = area * E / (2 * (1 + nu))
    return solution.compliance[0, 2, 2] * GA, 1.0 / (GA * (deflection + rotation))


@pytest.mark.parametrize("nu", [0.0, 0.3])
@pytest.mark.parametrize(("width", "thickness"), [(1.0, 1.0), (2.0, 1.0), (1.0, 2.0)])
def test_rectangle(nu, width, thickness):
    alpha, kappa = energy_and_cowper(rectangle(width, thickness), nu)
    assert kappa == pytest.approx(10 * (1 + nu) / (12 + 11 * nu), rel=2e-5)
    expected = {(1.0, 1.0): 1.207414, (2.0, 1.0): 1.274792, (1.0, 2.0): 1.200564}
    assert alpha == pytest.approx(1.2 if nu == 0.0 else expected[width, thickness], rel=2e-5)


@pytest.mark.parametrize(
    ("a", "b", "nu", "alpha"),
    [
        (1.0, 1.0, 0.0, 7 / 6),
        (1.0, 1.0, 0.3, 1.175542),
        (1.0, 2.0, 0.3, 1.128888),
        (2.0, 1.0, 0.3, 1.319245),
    ],
)
def test_circle_and_ellipse(a, b, nu, alpha):
    """Ellipse of semi-axis b along the shear and a across it."""
    found, kappa = energy_and_cowper(ellipse(a, b), nu)
    p, q = b, a
    cowper = (12 * (1 + nu) * p**2 * (3 * p**2 + q**2)) / (
        (40 + 37 * nu) * p**4 + (16 + 10 * nu) * p**2 * q**2 + nu * q**4
    )
    if a == b:
        assert cowper == pytest.approx(6 * (1 + nu) / (7 + 6 * nu), rel=1e-12)
    assert kappa == pytest.approx(cowper, rel=2e-5)
    assert found == pytest.approx(alpha, rel=2e-5)


@pytest.mark.parametrize(
    ("depth", "alpha", "kappa"),
    [(1.0, 1.363800, 0.770745), (0.5, 2.019407, 0.560449), (0.75, 1.531250, 0.702935)],
)
def test_half_ellipses_along_their_axis(depth, alpha, kappa):
    """nu = 0.3, half width 1; Ritz, recomputed.  Depth 1, Cowper: (1 + nu)/(1.305 + 1.273 nu)."""
    found, cowper = energy_and_cowper(half_ellipse(1.0, depth), 0.3)
    assert found == pytest.approx(alpha, rel=2e-5)
    assert cowper == pytest.approx(kappa, rel=2e-5)
    if depth == 1.0:
        assert cowper == pytest.approx(1.3 / (1.305 + 1.273 * 0.3), rel=4e-4)
