"""The answer of an assessment in one sentence."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from limbfe.analysis.bow.cautions import LARGE_SET
from limbfe.analysis.results.assessment import Assessment
from limbfe.analysis.wood.hot_spots import HotSpot
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.failure.verdict import MODE_NAMES, SOUND_CHANCE, SOUND_TYPICAL, Verdict
from limbfe.report.tables import STRUNG, band_words, strung_length
from limbfe.units import UnitSystem

RANKS: dict[Verdict, int] = {"sound": 0, "watch": 1, "expect a split": 2, "expect rupture": 3}
SPARE = "Bears the draw with little to spare"
TAKES_SET = "Bears the draw but takes a set"
SAID, LIKELY = SOUND_CHANCE, 0.2
"""Chances of failure from which they are said, and from which bearing the draw is doubted."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """What to expect of the whole bow: a verdict like those on knots, and why, in a sentence.

    `breaks` is False where wood is only crushed, which bends the bow but does not end it.
    """

    verdict: Verdict
    sentence: str
    strength_used: float
    breaks: bool


def answer(assessment: Assessment, units: UnitSystem) -> Answer:
    """Return the worst that is expected of any part of the bow at full draw."""
    found = [*_of_defects(assessment, units), *_of_clear_wood(assessment, units)]
    if found:
        # Of equally bad parts one that breaks, then the one nearest to failing.
        return max(found, key=lambda one: (RANKS[one.verdict], one.breaks, one.strength_used))
    worst = max(spot.strength_used for spot in assessment.hot_spots)
    sentence = f"Bears the draw: clear wood uses at most {worst:.0%} of its strength"
    sentence += ", and every knot and patch of decay is sound." if assessment.zones else "."
    return Answer(verdict="sound", sentence=sentence, strength_used=worst, breaks=False)


def next_step(assessment: Assessment, units: UnitSystem) -> str:
    """Return the one thing to do next, in a sentence."""
    worst = max(
        assessment.zones, key=lambda zone: (RANKS[zone.verdict], zone.strength_used), default=None
    )
    over = [spot for spot in assessment.hot_spots if spot.strength_used >= 1.0]
    full = units.length(float(assessment.drawn.curve.draw_length[-1]))
    if over:
        where = f"{units.length(over[0].at)} up the {over[0].limb} limb"
        return (
            f"do not draw it to {full}: draw less, or make the limbs longer or wider and thinner, "
            f"{where} first."
        )
    if worst is not None and worst.verdict != "sound":
        return f"see to {worst.kind} {worst.name} before it is drawn to {full}, as advised above."
    if assessment.drawn.kept is not None and assessment.drawn.kept.mean >= LARGE_SET:
        return "draw less, or make the limbs wider and thinner, or longer: the belly is overworked."
    return f"exercise it in small steps up to {full}, and look at the belly after each."


def _of_defects(assessment: Assessment, units: UnitSystem) -> Iterator[Answer]:
    for defect in assessment.zones:
        name = f"{zone_name(defect)}, {units.length(defect.at)} up the {defect.limb} limb,"
        if defect.verdict == "expect rupture":
            end = _before(defect.draw_length_at_rupture, assessment, units)
            sentence = f"{name} is expected to break {end}."
        elif defect.verdict == "expect a split":
            end = _before(defect.draw_length_at_split, assessment, units)
            sentence = f"{name} is expected to split {end}."
        elif defect.verdict == "watch":
            chance = defect.failure_probability
            crushed = defect.mode == MODE_NAMES["yield"]
            start = "May not bear the draw" if chance >= LIKELY else TAKES_SET if crushed else SPARE
            sentence = f"{start}: {name[0].lower()}{name[1:]} {zone_used_words(defect)}"
            sentence += f"; chance of failure about {chance:.0%}." if chance >= SAID else "."
        else:
            continue
        yield Answer(
            verdict=defect.verdict,
            sentence=sentence,
            strength_used=defect.strength_used,
            breaks=defect.mode != MODE_NAMES["yield"],
        )


def _of_clear_wood(assessment: Assessment, units: UnitSystem) -> Iterator[Answer]:
    for spot in assessment.hot_spots:
        if spot.strength_used < SOUND_TYPICAL:
            continue
        verdict, sentence = _clear_words(spot, units)
        yield Answer(
            verdict=verdict,
            sentence=sentence,
            strength_used=spot.strength_used,
            breaks=spot.mode != "compression" or spot.strength_used >= 1.0,
        )


def _clear_words(spot: HotSpot, units: UnitSystem) -> tuple[Verdict, str]:
    where = f"the {spot.face}, {units.length(spot.at)} up the {spot.limb} limb,"
    if spot.strength_used < 1.0:
        return "watch", f"{SPARE}: clear wood of {where} uses {spot.how_hard}."
    if spot.mode == "compression":
        return "expect rupture", (
            f"Clear wood of {where} is bent further than it can bear: expect wrinkles (frets), a "
            "large set, and a break."
        )
    if spot.mode == "tension":
        return "expect rupture", f"Clear wood of {where} is expected to break before full draw."
    return "expect a split", f"Clear wood of {where} is expected to split before full draw."


def zone_name(defect: ZoneVerdict) -> str:
    """Return what a knot or decay is called at the head of a sentence."""
    return defect.words[0].upper() + defect.words[1:]


def zone_used_words(defect: ZoneVerdict) -> str:
    """Return how hard a zone is worked, in words for a sentence."""
    if defect.mode == MODE_NAMES["yield"]:
        return (
            f"is shortened to {defect.wrinkling_used:.2f} times that from which wrinkles (frets) "
            "may show"
        )
    return f"uses {band_words(defect)} of its strength"


def _before(length: float | None, assessment: Assessment, units: UnitSystem) -> str:
    drawn = assessment.drawn.curve.draw_length
    if length is None:
        return "at full draw, more likely than not"
    if length <= strung_length(assessment.drawn):
        return f"{STRUNG}, before it is drawn at all"
    if length >= float(drawn[-1]):
        return "at full draw, more likely than not"
    full = units.length(float(drawn[-1]))
    return f"at a draw of {units.length(length)}, short of the {full} asked for"
