"""Chance of clear wood in tension, beside random staves and limits known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest

from limbfe.failure.clear_chance import clear_chance, in_hundred
from limbfe.failure.probability import Beside, Demand, Scatter, failure_probability
from limbfe.wood.weakest_link import SHAPE, weakest_scatter

NONE = Demand(low=0.0, typical=0.0, high=0.0)


@pytest.mark.parametrize("used", [0.6, 0.8, 1.0])
@pytest.mark.parametrize("tension", [0.10, 0.25])
def test_as_random_staves_have_it(used, tension):
    """Of 400,000; four of their own standard deviations."""
    scatter = Scatter(
        modulus=0.2, tension=tension, tension_across=0.25, shear=0.14, model=0.1,
        volume_split=3e-5, within=0.6,
    )  # fmt: skip
    rng, count = np.random.default_rng(7), 400_000
    sampled = failure_probability(
        NONE, (NONE,), scatter, rng, Beside(clear=used), count=count
    ).clear
    chance = clear_chance(used, 0.2, tension, 0.1)
    assert chance == pytest.approx(sampled, abs=4.0 * math.sqrt(chance * (1.0 - chance) / count))


def test_one_piece_alone_breaks_by_weibull():
    """No scatter but the weakest link's, of mean strength 1: closed."""
    mean = math.gamma(1.0 + 1.0 / SHAPE)
    exact = 1.0 - math.exp(-((0.7 * mean) ** SHAPE))
    assert clear_chance(0.7, 0.0, weakest_scatter(SHAPE) + 1e-12, 0.0) == pytest.approx(exact)


def test_more_used_is_more_likely_to_break_and_nothing_used_never():
    found = [clear_chance(used, 0.2, 0.25) for used in (0.0, 0.3, 0.6, 0.9, 1.2, 5.0)]
    assert found == sorted(found)
    assert found[0] == 0.0
    assert found[-1] == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize(
    ("chance", "said"), [(1e-5, "fewer than 0.1"), (0.004, "0.4"), (0.31, "31"), (1.0, "100")]
)
def test_words(chance, said):
    assert in_hundred(chance) == said
