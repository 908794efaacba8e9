"""What is advised follows from the marks that are passed: one sentence for each, and no other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.analysis.zones.advice import advise
from limbfe.failure.probability import Probability
from limbfe.failure.problem import LocalOutcome, ModeOutcome, ZoneUse, factors
from limbfe.failure.verdict import sound_limits
from limbfe.units import say, unit_system

EDGE = "common practice trusts no knot in an edge"
WRINKLES = "the belly there is worked to"
CHANCE = "wood of typical strength holds, but it adds"


def judged(fibre=0.3, split=0.2, crush=0.1, *, in_edge=False, breaks=0.0):
    """An outcome whose limits lie in the section of a station, so that nothing is tried."""

    def mode(name, typical):
        return ModeOutcome(
            mode=name, low=0.9 * typical, typical=typical, high=typical, x=0.1, y=0.01, z=0.02,
            high_y=0.01, high_z=0.02, angle=0.0, length=2e-3, station=3,
        )  # fmt: skip

    used = {"fibre": fibre, "opening": split, "sliding": 0.5 * split, "split": 0.2, "yield": crush}
    modes = {name: mode(name, typical) for name, typical in used.items()}
    demand = np.linspace(0.0, 1.0 / (1.0 - breaks), 1001)
    chance = Probability(
        rupture=breaks, split=0.0, clear=0.0, demand=demand, without=np.zeros(1001)
    )
    return LocalOutcome(
        zone="A", modes=modes, rupture=factors(modes["fibre"]), split=factors(modes["split"]),
        strength_ratio=0.8, tension_ratio=0.7, use=ZoneUse(zone=fibre, sound=0.2, limb=0.25),
        clear={"fibre": 0.25}, bond_used=0.0, probability=chance, fields=(), grain_split=None,
        in_edge=in_edge,
    )  # fmt: skip


def words(outcome):
    advice = advise(None, outcome, lambda place: None, 0.15, movable=True)
    return say(advice, unit_system("metric"))


@pytest.mark.parametrize(
    ("given", "passed", "said"),
    [
        ({"split": 1.3, "in_edge": True}, {"stress"}, {EDGE}),
        ({"crush": 1.2}, {"crushing"}, {WRINKLES}),
        ({"breaks": 0.1}, {"chance"}, {CHANCE}),
        ({"breaks": 0.1, "crush": 1.2}, {"chance", "crushing"}, {CHANCE}),
        ({"breaks": 0.1, "split": 1.3, "in_edge": True}, {"chance", "stress"}, set()),
    ],
)
def test_each_mark_has_its_sentence_and_no_other(given, passed, said):
    outcome = judged(**given)
    found = {one.mark for one in sound_limits(outcome) if one.factor <= 1.0 and one.mark != "break"}
    assert found == passed
    text = words(outcome)
    assert {one for one in (EDGE, WRINKLES, CHANCE) if one in text} == said, text


def test_a_sound_zone_is_left():
    assert words(judged()) == "leave it as it is"
    assert words(replace(judged(), zone="B")) == "leave it as it is"
