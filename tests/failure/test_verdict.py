"""Words for what was judged: every mark at which a zone stops being sound, and the load there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.failure.probability import Probability
from limbfe.failure.verdict import (
    EDGE_WORKED,
    EXPECTED_CHANCE,
    HAIRLINE,
    MODE_NAMES,
    SHORT_SPLIT,
    SOUND_CHANCE,
    SOUND_HIGH,
    SOUND_TYPICAL,
    first_failure,
    governing_mode,
    judge,
    sound_factor,
    sound_limits,
    verdict_numbers,
)

from .outcomes import outcome, scattered

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
        ({"demand": scattered(EXPECTED_CHANCE - 0.002)}, "watch"),
        ({"demand": scattered(EXPECTED_CHANCE + 0.002)}, "expect rupture"),
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


@pytest.mark.parametrize(
    ("given", "verdict", "words"),
    [
        ({"split": 0.6, "starts": 0.4}, "sound", SHORT_SPLIT),
        ({"split": 0.6, "starts": 1.1}, "sound", "splits by sliding along the grain"),
        ({"split": 1.1, "starts": 0.4}, "expect a split", "splits by sliding along the grain"),
        ({"split": 0.6, "fibre": 1.0, "starts": 0.4}, "expect rupture", "fibres break"),
        ({"split": 0.6, "crush": 1.0, "starts": 0.4}, "watch", MODE_NAMES["yield"]),
    ],
)
def test_a_short_split_is_a_hairline_and_no_split(given, verdict, words):
    given = {"demand": scattered(0.0), **given}
    assert (judge(outcome(**given)), first_failure(outcome(**given))) == (verdict, words)
    course = outcome(**given).grain_split.course_at(1.0)
    ran, seen = given["split"] > 1.0, given["starts"] < 1.0
    assert course == ("runs out" if ran else "stays short" if seen else "none")


def test_only_a_live_knot_is_said_to_have_a_common_hairline():
    hole = outcome(split=0.6, starts=0.4, demand=scattered(0.0))
    split = hole.grain_split
    live = replace(hole, grain_split=replace(split, joint=split.ways[0].split))
    assert [first_failure(one) for one in (hole, live)] == [SHORT_SPLIT, HAIRLINE]


def test_no_knot_in_an_edge_is_sound_by_its_energy_alone():
    """Common practice trusts no knot in an edge: where stress may split it, it is watched."""
    given = {"split": 0.3, "split_high": 1.25, "starts": 5.0, "demand": scattered(0.0)}
    inside = outcome(**given)
    assert inside.grain_split is not None
    edge = replace(inside, grain_split=replace(inside.grain_split, at_edge=True))
    assert (judge(inside), judge(edge)) == ("sound", "watch")
    assert sound_limits(edge)[0].mark == "stress"
    assert sound_factor(edge) == pytest.approx(1 / 1.25)
    assert first_failure(edge) == "splits open along the grain"


@pytest.mark.parametrize(("sound", "verdict"), [(EDGE_WORKED * LESS, "sound"), (0.45, "watch")])
def test_a_knot_that_an_edge_cuts_is_watched_where_the_limb_works(sound, verdict):
    """Whatever stress and energy say of it: common practice."""
    whole = outcome(split=0.3, split_high=0.4, starts=5.0, demand=scattered(0.0))
    cut = replace(whole, in_edge=True, use=replace(whole.use, sound=sound))
    assert (judge(whole), judge(cut)) == ("sound", verdict)


@pytest.mark.parametrize("crush", [0.87, 1.1])
def test_a_break_that_grows_likely_is_told_before_wrinkles(crush):
    given = {"split": 0.69, "crush": crush, "starts": 0.4}
    assert first_failure(outcome(**given, demand=scattered(0.0))) != MODE_NAMES["sliding"]
    assert first_failure(outcome(**given, demand=scattered(0.07))) == MODE_NAMES["sliding"]


def test_what_the_limb_would_do_anyway_is_not_laid_on_the_zone():
    """Of 1000 staves 300 fail without the zone and 340 with it: it adds 4 in 100."""
    without = np.sort(np.where(np.arange(1000) < 300, 1.2, 0.5))
    with_it = np.sort(np.where(np.arange(1000) < 340, 1.2, 0.5))
    chance = Probability(rupture=0.34, split=0.0, clear=0.3, demand=with_it, without=without)
    assert chance.added == pytest.approx(0.04)
    assert chance.load_factor(SOUND_CHANCE) == np.inf
    worse = np.sort(np.where(np.arange(1000) < 400, 1.2, 0.5))
    chance = Probability(rupture=0.4, split=0.0, clear=0.3, demand=worse, without=without)
    assert chance.load_factor(SOUND_CHANCE) == pytest.approx(1 / 1.2, rel=1e-3)


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
    assert lowest.place[:2] == place
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


def test_strength_used_is_on_one_scale_whatever_comes_first():
    """A belly that wrinkles first and breaks later: it grows with the load and never falls back."""
    loads = np.linspace(0.5, 1.2, 15)
    found = [verdict_numbers(outcome(fibre=load, crush=2.0 * load)) for load in loads]
    assert len({one["mode"] for one in found}) > 1
    assert [one["strength_used"] for one in found] == pytest.approx(loads)
    assert [one["wrinkling_used"] for one in found] == pytest.approx(2.0 * loads)
