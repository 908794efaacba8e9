"""Words for what was judged: every mark at which a zone stops being sound, and the load there."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.failure.probability import Probability
from limbfe.failure.problem import LocalOutcome, ModeOutcome, factors
from limbfe.failure.verdict import (
    SOUND_CHANCE,
    SOUND_HIGH,
    SOUND_TYPICAL,
    governing_mode,
    judge,
    sound_factor,
    sound_limits,
)


def mode(name, typical, high=None):
    return ModeOutcome(
        mode=name,
        low=0.9 * typical,
        typical=typical,
        high=typical if high is None else high,
        x=0.1,
        y=0.01 * len(name),
        z=0.02,
        high_y=-0.01 * len(name),
        high_z=0.03,
        angle=0.0,
        length=2e-3,
    )


def outcome(fibre=0.3, split=0.2, crush=0.1, *, fibre_high=None, split_high=None, demand=None):
    modes = {
        "fibre": mode("fibre", fibre, fibre_high),
        "opening": mode("opening", split, split_high),
        "sliding": mode("sliding", 0.5 * split),
        "split": mode("split", split, split_high),
        "yield": mode("yield", crush),
    }
    chance = None
    if demand is not None:
        samples = np.array(demand)
        either = float((samples > 1.0).mean())
        chance = Probability(rupture=either, split=0.0, either=either, demand=samples)
    return LocalOutcome(
        zone="A",
        modes=modes,
        rupture=factors(modes["fibre"]),
        split=factors(modes["split"]),
        strength_ratio=0.8,
        clear={"fibre": 0.25},
        bond_used=0.0,
        probability=chance,
        fields=(),
    )


def scattered(share_above_one):
    """Strength used of 1000 staves, evenly from 0 to where that share of them is above 1."""
    return np.linspace(0.0, 1.0 / (1.0 - share_above_one), 1001)


LESS, MORE = 1.0 - 1e-6, 1.0 + 1e-6


@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        ({}, "sound"),
        ({"fibre": SOUND_TYPICAL * LESS, "split": SOUND_TYPICAL * LESS}, "sound"),
        ({"fibre": SOUND_TYPICAL * MORE}, "watch"),
        ({"split": SOUND_TYPICAL * MORE}, "watch"),
        ({"fibre_high": SOUND_HIGH * LESS, "split_high": SOUND_HIGH * LESS}, "sound"),
        ({"fibre_high": SOUND_HIGH * MORE}, "watch"),
        ({"split_high": SOUND_HIGH * MORE}, "watch"),
        ({"demand": scattered(SOUND_CHANCE - 0.002)}, "sound"),
        ({"demand": scattered(SOUND_CHANCE + 0.002)}, "watch"),
        ({"crush": LESS}, "sound"),
        ({"crush": 1.0}, "watch"),
        ({"crush": 3.0}, "watch"),
        ({"split": LESS}, "watch"),
        ({"split": 1.0}, "expect a split"),
        ({"split": 1.2, "fibre": 0.9, "crush": 2.0}, "expect a split"),
        ({"fibre": 1.0}, "expect rupture"),
        ({"fibre": 1.1, "split": 1.5}, "expect rupture"),
    ],
)
def test_verdict(given, verdict):
    assert judge(outcome(**given)) == verdict


def test_the_marks_themselves():
    """Choices of ours: typical values leave a fifth, the band ends at failure, one in twenty."""
    assert (SOUND_TYPICAL, SOUND_HIGH, SOUND_CHANCE) == (0.8, 1.0, 0.05)


@pytest.mark.parametrize(
    ("given", "mark", "factor", "place"),
    [
        ({"fibre": 1.6}, "typical", 0.5, (0.05, 0.02)),
        ({"split": 0.4, "split_high": 1.25}, "high", 0.8, (-0.05, 0.03)),
        ({"crush": 2.0}, "crushing", 0.5, (0.05, 0.02)),
        ({"split": 0.4, "demand": scattered(0.24)}, "chance", 0.76 / 0.95, (0.05, 0.02)),
    ],
)
def test_the_load_up_to_which_a_zone_is_sound(given, mark, factor, place):
    lowest = sound_limits(outcome(**given))[0]
    assert (lowest.mark, lowest.factor) == (mark, pytest.approx(factor, rel=1e-3))
    assert lowest.place == place
    assert sound_factor(outcome(**given)) == lowest.factor


def test_what_carries_nothing_is_sound_at_any_load():
    assert sound_factor(outcome(0.0, 0.0, 0.0)) == np.inf


@pytest.mark.parametrize(
    ("given", "first"),
    [
        ({"fibre": 0.5, "split": 0.4}, "fibre"),
        ({"fibre": 0.5, "split": 0.6}, "opening"),
        ({"crush": 0.9}, "yield"),
        ({"fibre": SOUND_TYPICAL * MORE, "crush": 2.0}, "fibre"),
    ],
)
def test_a_break_that_is_near_speaks_before_crushing(given, first):
    assert governing_mode(outcome(**given)).mode == first
