"""The bond round a filling, under an even pull or push in any direction.

A stress ``s`` along a direction pulls on a side whose normal stands at the angle ``a`` to it with
``s cos^2 a`` and shears it with ``s sin a cos a`` (Mohr's circle).
"""

import math

import numpy as np
import pytest

from limbfe.failure.bond import rim_used

PULL = 3e6
WAYS = (0.0, 0.4, 1.9)


def used(zones, stress: float, way: float, tension: float, shear: float) -> float:
    """A round filling of 12 mm; 720 sides, a window narrower than one of them."""
    turn = np.linspace(0.0, 2.0 * math.pi, 721)
    rim = 6e-3 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    c, s = math.cos(way), math.sin(way)
    inside = np.tile(stress * np.array([c * c, s * s, c * s]), (720, 1))
    filling = zones.knot(state="filled", modulus=3e9, bond_tension=tension, bond_shear=shear)
    return rim_used(inside, rim[:-1], rim[1:], filling, 1e-5)


@pytest.mark.parametrize("way", WAYS)
def test_pull_on_a_bond_stronger_in_tension(zones, way):
    """u = cos^2 a: u^2 / 4 + u (1 - u) is largest at u = 2/3 and there 1/3."""
    assert used(zones, PULL, way, 2.0 * PULL, PULL) == pytest.approx(math.sqrt(1.0 / 3.0), rel=1e-4)


@pytest.mark.parametrize("way", WAYS)
def test_pull_on_a_bond_as_strong_in_shear(zones, way):
    """cos^4 a + sin^2 a cos^2 a = cos^2 a: the side square to the pull leads."""
    assert used(zones, PULL, way, 2.0 * PULL, 2.0 * PULL) == pytest.approx(0.5, rel=1e-4)


@pytest.mark.parametrize("way", WAYS)
def test_push_only_shears(zones, way):
    """The largest shear is half the push, however weak the bond is in tension."""
    assert used(zones, -PULL, way, 0.01 * PULL, PULL) == pytest.approx(0.5, rel=1e-4)
