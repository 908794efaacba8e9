"""Average stress beside a hole.

J. M. Whitney, R. J. Nuismer, Stress fracture criteria for laminated composites containing stress
concentrations, Journal of Composite Materials 8 (1974), 253-265 (formulas from memory; the
integral of the point form was carried out again and agrees with the average form).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import trapezoid

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.recovery import lay_samples
from limbfe.defect.strip import Ellipse
from limbfe.failure.window_operators import Ground, across_windows
from limbfe.wood.elasticity import isotropic

RADIUS, STRAIN, E = 3.0e-3, 1.0e-3, 8.0e9


def strength_ratio(xi, K=3.0):
    """Notched over unnotched strength, xi = R / (R + a0)."""
    return 2.0 * (1.0 - xi) / (2.0 - xi**2 - xi**4 + (K - 3.0) * (xi**6 - xi**8))


@pytest.fixture(scope="module")
def wide(plate):
    return plate(
        wood=isotropic(E, 0.3),
        ellipse=Ellipse(x=0.0, y=0.0, a=RADIUS, b=RADIUS),
        half_width=320 * RADIUS,
        half_length=320 * RADIUS,
        near=RADIUS / 12,
        strain=LimbStrain(x0=0.0, axial=STRAIN),
        growth=0.2,
    )


def window_average(wide, length, thickness):
    """Average along x over a window that touches the flank of the hole."""
    span = RADIUS + 1.5 * length
    raster, stress = wide.sampled(
        0.03e-3, np.array([-1.0e-3, 0.5 * RADIUS]), np.array([1.0e-3, span])
    )
    mask = np.zeros(raster.grid.shape[0] * raster.grid.shape[1], dtype=bool)
    mask[raster.covered] = True
    samples = lay_samples(raster.grid, mask)
    ground = Ground(strip=wide.meshed.body.strip, solids=(wide.ellipse,), flow=(), far=0.0)
    centre = np.array([[0.0, RADIUS + 0.5 * length]])
    window = across_windows(samples, ground, centre, np.array([length]), thickness)
    return float((window.average @ samples.extended(stress[:, 0]))[0]) / (E * STRAIN)


@pytest.mark.parametrize("length", [1.0e-3, 2.0e-3, 4.0e-3])
def test_average_over_a_thin_window(wide, length):
    """Within 0.5 %: ten midpoints stand for the integral."""
    ratio = strength_ratio(RADIUS / (RADIUS + length))
    assert 1.0 / window_average(wide, length, 0.1e-3) == pytest.approx(ratio, rel=5e-3)


def test_the_millimetre_along_the_fibre_costs_little(wide):
    """Our window is 1 mm thick along the fibre where the theory has a line.

    At a hole of 3 mm radius the stress falls away from the flank along the rim, so the average
    over the millimetre lies below that over the line, by less than 5 % for windows of 2 mm.
    """
    line = window_average(wide, 2.0e-3, 0.1e-3)
    ours = window_average(wide, 2.0e-3, 1.0e-3)
    assert 0.95 * line < ours < line


def test_formula_is_the_average_of_the_point_form():
    """s(y) = (2 + r^2 + 3 r^4 - (K - 3)(5 r^6 - 7 r^8)) / 2, r = R / y, for K = 5.598."""
    K, length = 5.598, 2.0
    y = np.linspace(1.0, 1.0 + length, 20001)
    r = 1.0 / y
    s = 0.5 * (2.0 + r**2 + 3.0 * r**4 - (K - 3.0) * (5.0 * r**6 - 7.0 * r**8))
    mean = trapezoid(s, y) / length
    assert 1.0 / mean == pytest.approx(strength_ratio(1.0 / (1.0 + length), K), rel=1e-6)
