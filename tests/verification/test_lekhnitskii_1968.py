"""Holes in wide orthotropic plates.

S. G. Lekhnitskii, Anisotropic Plates, Gordon and Breach (1968), ch. VI: hoop stress on circular
and elliptical holes, load along the grain (from memory; the formula is checked at the flank and
the pole against the two limits that are quoted everywhere, 1 + n and -1 / k).
C. B. Smith, Effect of elliptic or circular holes on the stress distribution in plates of wood or
plywood considered as orthotropic materials, Forest Products Laboratory Report 1510 (1944):
5.84 for plain-sawn Sitka spruce (abstract read, treesearch 25682).
"""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.strip import Ellipse
from limbfe.wood.elasticity import Elasticity

WOOD = Elasticity(
    E_L=10.0e9,
    E_R=1.1e9,
    E_T=0.7e9,
    G_LR=0.8e9,
    G_LT=0.7e9,
    G_RT=0.09e9,
    nu_LR=0.31,
    nu_LT=0.35,
    nu_RT=0.45,
)
STRAIN = 0.7e-3
K = np.sqrt(WOOD.E_L / WOOD.E_T)
N = np.sqrt(2.0 * (K - WOOD.nu_LT) + WOOD.E_L / WOOD.G_LT)


def hoop(theta):
    """Hoop stress over far stress on a circle, theta from the grain."""
    s2, c2 = np.sin(theta) ** 2, np.cos(theta) ** 2
    modulus = 1.0 / (s2**2 + (WOOD.E_L / WOOD.G_LT - 2.0 * WOOD.nu_LT) * s2 * c2 + K**2 * c2**2)
    return modulus * ((1.0 + N) * s2 - K * c2)


@pytest.fixture(scope="module")
def circle(plate):
    radius = 4.0e-3
    return radius, plate(
        wood=WOOD,
        ellipse=Ellipse(x=0.0, y=0.0, a=radius, b=radius),
        half_width=320 * radius,
        half_length=640 * radius,
        near=radius / 45,
        strain=LimbStrain(x0=0.0, axial=STRAIN),
    )


def test_peak(circle):
    """5.598, within 0.5 %."""
    _, solved = circle
    assert pytest.approx(5.598, abs=1e-3) == 1.0 + N
    assert solved.flank_stress() / (WOOD.E_L * STRAIN) == pytest.approx(1.0 + N, rel=5e-3)


def test_hoop_stress_round_the_rim(circle):
    """The whole distribution, within 1 % of the peak, which has fallen by a third at 10 deg."""
    _, solved = circle
    points, stress = solved.rim_stress()
    theta = np.arctan2(points[:, 1], points[:, 0])
    error = stress / (WOOD.E_L * STRAIN) - hoop(theta)
    assert np.abs(error).max() < 0.01 * (1.0 + N)


def test_the_quoted_formula_has_the_quoted_limits():
    assert hoop(np.pi / 2) == pytest.approx(1.0 + N)
    assert hoop(0.0) == pytest.approx(-1.0 / K)


@pytest.mark.parametrize(
    ("a", "b"), [(6.0e-3, 3.0e-3), pytest.param(3.0e-3, 5.0e-3, marks=pytest.mark.slow)]
)
def test_elliptical_hole(plate, a, b):
    """1 + (b / a) n, within 0.5 %: the peak is a narrow spike."""
    solved = plate(
        wood=WOOD,
        ellipse=Ellipse(x=0.0, y=0.0, a=a, b=b),
        half_width=320 * max(a, b),
        half_length=640 * max(a, b),
        near=min(a * a / b, b) / 60,
        strain=LimbStrain(x0=0.0, axial=STRAIN),
    )
    assert solved.flank_stress() / (WOOD.E_L * STRAIN) == pytest.approx(1.0 + b / a * N, rel=5e-3)


def test_plain_sawn_spruce_of_report_1510(plate):
    """With handbook ratios (from memory: E_T/E_L .043, G_LT/E_L .061, nu_LT .467) the closed form
    gives 6.01, 3 % above the 5.84 that Smith found with his own constants; ours agrees with the
    closed form to 1 % and so lies within 4 % of his.
    """
    spruce = Elasticity(
        E_L=10.3e9,
        E_R=0.078 * 10.3e9,
        E_T=0.043 * 10.3e9,
        G_LR=0.064 * 10.3e9,
        G_LT=0.061 * 10.3e9,
        G_RT=0.003 * 10.3e9,
        nu_LR=0.372,
        nu_LT=0.467,
        nu_RT=0.435,
    )
    radius = 4.0e-3
    solved = plate(
        wood=spruce,
        ellipse=Ellipse(x=0.0, y=0.0, a=radius, b=radius),
        half_width=320 * radius,
        half_length=640 * radius,
        near=radius / 28,
        strain=LimbStrain(x0=0.0, axial=STRAIN),
    )
    got = solved.flank_stress() / (spruce.E_L * STRAIN)
    assert got == pytest.approx(6.01, rel=1e-2)
    assert got == pytest.approx(5.84, rel=4e-2)
