"""Weibull's weakest link in closed form (W. Weibull, A statistical theory of the strength of
materials, 1939, from memory; the integrals are recomputed here)."""

import numpy as np
import pytest

from limbfe.wood import make_wood
from limbfe.wood.weakest_link import SHAPE, bar_volume, joint_use

HARD = 1e12


def elastic_wood():
    """Wood whose belly does not yield before its back breaks."""
    given = {
        "tension_strength": 100e6, "compression_strength": 100e6, "bending_strength": 100e6,
        "compression_proportional_limit": 100e6, "compression_plateau": 100e6,
    }  # fmt: skip
    return make_wood(name="bar", species="white ash", moisture=0.12, given=given, cov={})


@pytest.mark.parametrize("shape", [6.0, 9.0, 12.0])
def test_elastic_bar_loaded_in_the_middle(shape):
    """``V / (2 (k + 1)^2)``: half of the bar is stretched, and stress falls off twice."""
    side, span = 0.04, 0.6
    expected = side**2 * span / (2.0 * (shape + 1.0) ** 2)
    assert bar_volume(elastic_wood(), shape, side, span) == pytest.approx(expected, rel=1e-3)


def test_a_yielding_belly_leaves_a_smaller_peak():
    ash = make_wood(name="bar", species="white ash", moisture=0.12, given={}, cov={})
    assert bar_volume(ash) == pytest.approx(1.7e-6, rel=0.05)
    assert bar_volume(ash) < 0.3 * bar_volume(elastic_wood())


def test_parts_together():
    """Evenly worked parts are one volume; one part as large as its reference is itself."""
    assert joint_use(np.array([0.7]), np.array([1.0])) == pytest.approx(0.7)
    even = joint_use(np.full(5, 0.7), np.full(5, 4.0))
    assert even == pytest.approx(0.7 * 20.0 ** (1.0 / SHAPE))
    assert joint_use(np.zeros(3), np.ones(3)) == 0.0


def test_a_beam_by_parts():
    """The links of a linear field add up to the closed form of the elastic bar."""
    n = 400
    at = (np.arange(n) + 0.5) / n
    used = 0.9 * np.outer(at, at)
    parts = np.full(used.shape, 50.0 / n**2)
    expected = 0.9 * (50.0 / (SHAPE + 1.0) ** 2) ** (1.0 / SHAPE)
    assert joint_use(used, parts) == pytest.approx(expected, rel=1e-4)
