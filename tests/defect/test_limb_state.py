"""The limb's own stress in a strip."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import trapezoid

from limbfe.defect.limb_state import LimbStrain, limb_stress
from limbfe.defect.strip import Strip, edge
from limbfe.defect.zone import Grain
from limbfe.wood.elasticity import Elasticity

WOOD = Elasticity(
    E_L=11.0e9,
    E_R=1.2e9,
    E_T=0.6e9,
    G_LR=0.9e9,
    G_LT=0.7e9,
    G_RT=0.08e9,
    nu_LR=0.33,
    nu_LT=0.41,
    nu_RT=0.52,
)


def test_limb_stress_leaves_no_traction_on_tapering_edges():
    strip = Strip(
        x=[-0.07, 0.0, 0.08], right=[-0.017, -0.0158, -0.014], left=[0.018, 0.017, 0.0145]
    )
    strain = LimbStrain(x0=0.01, axial=3e-3, axial_slope=-0.012, bending=0.06, bending_slope=0.3)
    grain = Grain(angle=0.05, run_out=0.03)
    x = np.linspace(-0.06, 0.07, 40)
    for side in ("left", "right"):
        points = np.stack([x, edge(strip, side, x)], axis=1)
        s = limb_stress(strip, WOOD, grain, strain, points)
        slope = edge(strip, side, x, slope=True)
        traction = np.stack([-slope * s[:, 0] + s[:, 2], -slope * s[:, 2] + s[:, 1]])
        assert np.abs(traction).max() < 1e-9 * np.abs(s).max()


def test_mean_shear_is_the_given_one():
    strip = Strip(x=[-0.1, 0.1], right=[-0.012] * 2, left=[0.018] * 2)
    grain = Grain(angle=0.0, run_out=0.0)
    y = np.linspace(-0.012, 0.018, 2001)
    points = np.stack([np.zeros_like(y), y], axis=1)
    s = limb_stress(strip, WOOD, grain, LimbStrain(x0=0.0, axial=0.0, shear=1e-3), points)
    assert trapezoid(s[:, 2], y) / 0.03 == pytest.approx(WOOD.G_LT * 1e-3, rel=1e-6)
    assert s[[0, -1], 2] == pytest.approx(0.0, abs=1e-6)
