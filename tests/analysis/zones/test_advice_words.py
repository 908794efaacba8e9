"""What is advised follows from the marks that are passed: one sentence for each, and no other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from limbfe.analysis.zones.advice import advise
from limbfe.failure.verdict import sound_limits
from limbfe.units import say, unit_system

from ...failure.outcomes import outcome, scattered

EDGE = "common practice trusts no knot in an edge"
WRINKLES = "the belly there is worked to"
CHANCE = "wood of typical strength holds, but it adds"


def judged(*, breaks=0.0, in_edge=False, **given):
    """An outcome whose limits lie in the section of a station, so that nothing is tried."""
    made = outcome(demand=scattered(breaks), **given)
    modes = {name: replace(one, station=3) for name, one in made.modes.items()}
    return replace(made, modes=modes, in_edge=in_edge)


def words(judged):
    advice = advise(None, judged, lambda place: None, 0.15, movable=True)
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
    found = judged(**given)
    marks = {one.mark for one in sound_limits(found) if one.factor <= 1.0 and one.mark != "break"}
    assert marks == passed
    text = words(found)
    assert {one for one in (EDGE, WRINKLES, CHANCE) if one in text} == said, text


def test_a_sound_zone_is_left():
    assert words(judged()) == "leave it as it is"
    assert words(replace(judged(), zone="B")) == "leave it as it is"
