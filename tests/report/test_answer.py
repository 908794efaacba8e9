"""The one sentence: the worst of all parts speaks."""

from __future__ import annotations

from dataclasses import replace

import pytest

from limbfe.report.answer import answer
from limbfe.units import IMPERIAL, METRIC

from ..invented_bow import unmodelled


def part(assessment, defects=(), spots=()):
    first = assessment.hot_spots[0]
    made = tuple(
        replace(first, mode=mode, strength_used=used, face="back", at=0.245, limb="upper")
        for mode, used in spots
    )
    return replace(assessment, judged=unmodelled(defects), hot_spots=made)


@pytest.fixture
def knot(named_badly):
    return replace(
        named_badly.zones[0], name="A", kind="knot", limb="upper", at=0.298, verdict="watch",
        strength_used=0.9, strength_used_low=0.7, strength_used_high=1.2,
        draw_length_at_split=None, draw_length_at_rupture=None, mode="fibres break",
        failure_probability=0.01,
    )  # fmt: skip


def test_all_sound(named_badly, knot):
    calm = part(named_badly, [replace(knot, verdict="sound")], [("tension", 0.62)])
    found = answer(calm, METRIC)
    assert found.verdict == "sound"
    assert found.sentence == (
        "Bears the draw: clear wood uses at most 62% of its strength, and every knot and patch of "
        "decay is sound."
    )


@pytest.mark.parametrize(
    ("spot", "verdict", "said"),
    [
        (("tension", 1.0), "expect rupture", "is expected to break before full draw"),
        (("shear", 1.02), "expect a split", "is expected to split before full draw"),
        (("compression", 1.19), "expect rupture", "expect wrinkles (frets), a large set, and"),
        (("compression", 0.93), "watch", "where wrinkles (frets) may show"),
        (("tension", 0.85), "watch", "uses 85% of its tension strength"),
    ],
)
def test_clear_wood_speaks_when_no_knot_is_worse(named_badly, spot, verdict, said):
    found = answer(part(named_badly, [], [("shear", 0.2), spot]), METRIC)
    assert found.verdict == verdict
    assert said in found.sentence
    assert "the back, 245 mm up the upper limb" in found.sentence


def test_a_split_outranks_a_wrinkled_belly(named_badly, knot):
    split = replace(knot, verdict="expect a split", strength_used=1.02, draw_length_at_split=0.695)
    found = answer(part(named_badly, [split], [("compression", 0.97)]), IMPERIAL)
    assert found.verdict == "expect a split"
    assert found.sentence == (
        "Knot A, 11 3/4 in up the upper limb, is expected to split at a draw of 27 3/8 in, short "
        "of the 28 in asked for."
    )


@pytest.mark.parametrize(
    ("verdict", "key"),
    [("expect rupture", "draw_length_at_rupture"), ("expect a split", "draw_length_at_split")],
)
def test_what_fails_at_brace_fails_when_strung(named_badly, knot, verdict, key):
    """Nobody draws to the brace height: a figure of it would be read as a draw."""
    brace = float(named_badly.drawn.curve.draw_length[0])
    failed = replace(knot, verdict=verdict, strength_used=2.0, **{key: brace})
    sentence = answer(part(named_badly, [failed], [("tension", 0.5)]), IMPERIAL).sentence
    assert "already when strung" in sentence
    assert "at a draw of" not in sentence


def test_a_knot_to_watch_gives_its_band(named_badly, knot):
    found = answer(part(named_badly, [knot], [("tension", 0.5)]), METRIC)
    assert found.sentence == (
        "Bears the draw with little to spare: knot A, 298 mm up the upper limb, uses 90% (70% to "
        "120%) of its strength."
    )


def test_a_knot_that_may_break_speaks_before_a_belly_that_is_crushed(named_badly, knot):
    likely = replace(knot, failure_probability=0.55)
    found = answer(part(named_badly, [likely], [("compression", 0.97)]), METRIC)
    assert found.sentence.startswith("May not bear the draw: knot A")
    assert found.sentence.endswith("chance of failure about 55%.")
    crushed = replace(knot, mode="wrinkles on the belly (frets)")
    found = answer(part(named_badly, [crushed], [("compression", 0.7)]), METRIC)
    assert "takes a set" in found.sentence
    found = answer(part(named_badly, [likely], [("compression", 1.19)]), METRIC)
    assert "bent further than it can bear" in found.sentence
