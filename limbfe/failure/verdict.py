"""From strength used to words: what to expect of a knot or a patch."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from limbfe.failure.problem import LocalOutcome, ModeOutcome, Place

Verdict = Literal["sound", "watch", "expect a split", "expect rupture"]
SOUND_TYPICAL = 0.8
SOUND_HIGH = 1.0
SOUND_CHANCE = 0.05
"""A zone is sound when it adds less than 1 in 20 to the chance that the limb fails, and its belly
does not wrinkle; in a trial, which has no chance, when its typical strength used stays below 0.8
and the pessimistic end of its band below 1: choices, on the careful side, not standards."""

EXPECTED_CHANCE = 0.5
"""Chance a zone adds from which its failure is expected though wood of typical strength bears it:
what more likely fails than holds is not merely to be watched."""

EDGE_WORKED = 0.25
"""Strength used of a limb's clear wood in tension above which no knot that its edge cuts is sound:
a choice, after common practice; backs work to a third and a half, tips to a tenth."""

MODE_NAMES = {
    "fibre": "fibres break",
    "opening": "splits open along the grain",
    "sliding": "splits by sliding along the grain",
    "through": "gives way on the belly",
    "yield": "wrinkles on the belly (frets)",
    "none": "carries nothing",
}
HAIRLINE = "a hairline beside it, common and harmless"
SHORT_SPLIT = "a hairline beside it, which stays short"
"""Beside a live knot, and beside a dead one or a hole, whose hairlines nobody calls common."""


def judge(outcome: LocalOutcome) -> Verdict:
    """Return the verdict on a zone at the load that was judged.

    A zone is sound below the lowest of its `sound_limits`, so that the load they name holds.  A
    knot that an edge cuts is sound only where stress allows it as well as energy and the limb
    hardly works (`EDGE_WORKED`): common practice trusts no knot in an edge, and no measured piece
    stands behind the energy of what would split off.
    Wrinkles on the belly are no break: by themselves they lead to "watch" at the most.  Where a
    split was followed, one that stays short is none.
    """
    if outcome.modes["fibre"].typical >= 1.0:
        return "expect rupture"
    if outcome.modes["split"].typical >= 1.0:
        return "expect a split"
    chance = outcome.probability
    if chance is not None and chance.added >= EXPECTED_CHANCE:
        return "expect rupture" if chance.rupture >= chance.split else "expect a split"
    return "sound" if sound_factor(outcome) > 1.0 else "watch"


def governing_mode(outcome: LocalOutcome) -> ModeOutcome:
    """Return how the zone fails first; a wrinkled belly only where it is far from breaking.

    A belly that is pressed yields, it does not break, so a break that is near speaks first.
    """
    fibre, split, crush = (outcome.modes[mode] for mode in ("fibre", "split", "yield"))
    breaking = fibre
    if split.typical > fibre.typical:
        ways = (outcome.modes[mode] for mode in ("opening", "sliding"))
        mode = max(ways, key=lambda one: one.typical).mode
        if outcome.grain_split is not None:
            mode = split_way(split)
        breaking = replace(split, mode=mode)
    if max(crush.typical, breaking.typical / SOUND_TYPICAL) < 1.0 <= _by_stress(outcome):
        return _pulled_apart(outcome)
    far = breaking.typical < SOUND_TYPICAL and not _adds_chance(outcome)
    if crush.typical > breaking.typical and far:
        return crush
    return breaking


def _pulled_apart(outcome: LocalOutcome) -> ModeOutcome:
    """Return what stress alone says of splitting, by the pessimistic end of its band."""
    return max((outcome.modes[mode] for mode in ("opening", "sliding")), key=lambda one: one.high)


def _by_stress(outcome: LocalOutcome) -> float:
    """Return strength used by stress alone of a knot in an edge; 0 where energy is trusted."""
    followed = outcome.grain_split
    sliver = followed is not None and followed.at_edge
    if not (sliver or outcome.in_edge):
        return 0.0
    stress = _pulled_apart(outcome).high
    if not outcome.in_edge or outcome.use.zone <= 0.0:
        return stress
    # by the fibres, which are known at other draws too
    worked = outcome.modes["fibre"].typical * outcome.use.sound / outcome.use.zone
    return max(stress, worked / EDGE_WORKED)


def _adds_chance(outcome: LocalOutcome) -> bool:
    """Return whether a zone that a typical limb bears adds too much to the chance of failure."""
    chance = outcome.probability
    return chance is not None and chance.load_factor(SOUND_CHANCE) <= 1.0


def split_way(split: ModeOutcome) -> str:
    """Return which of its two ways a followed split mostly goes."""
    return "sliding" if split.mix > 0.25 * np.pi else "opening"


def hairline(outcome: LocalOutcome) -> bool:
    """Return whether a short split or an opened joint is to be seen at the judged load."""
    followed = outcome.grain_split
    return followed is not None and followed.course_at(1.0) == "stays short"


def first_failure(outcome: LocalOutcome) -> str:
    """Return in words what comes first, and that fibres break besides where they are expected to.

    Of a zone whose split comes first the verdict is still "expect rupture" where the load that
    was judged breaks its fibres too; both are then said.
    """
    first, fibre = governing_mode(outcome).mode, outcome.modes["fibre"]
    followed = outcome.grain_split
    if followed is not None and hairline(outcome) and judge(outcome) == "sound":
        return SHORT_SPLIT if followed.joint is None else HAIRLINE
    words = MODE_NAMES[first]
    if first != fibre.mode and fibre.typical >= 1.0:
        words += f", then {MODE_NAMES[fibre.mode]}"
    return words


def verdict_numbers(outcome: LocalOutcome) -> dict[str, Any]:
    """Return what is reported of a zone: verdict, how it fails, strength used with its band.

    Returns
    -------
    dict
        ``verdict``, ``mode`` (in words, what comes first), ``strength_used``,
        ``strength_used_low``, ``strength_used_high`` (of what breaks it, whatever comes first, so
        that it grows with the load; 1 where wood of typical strength breaks), ``wrinkling_used``
        (shortening of the belly over that from which wrinkles may show), ``strength_ratio`` and
        ``tension_ratio`` (1 where the clear strip has no tension), ``failure_probability`` (what
        the zone adds), ``limb_failure_probability``
        (without it), ``split_length`` (m) and ``split_course``.
    """
    low, used, high = breaking_used(outcome)
    chance, followed = outcome.probability, outcome.grain_split
    if followed is None:
        course = "runs along" if outcome.modes["split"].typical >= 1.0 else "none"
        length = None
    else:
        course, length = followed.course_at(1.0), followed.length_at(1.0)
    return {
        "verdict": judge(outcome),
        "mode": first_failure(outcome),
        "strength_used": used,
        "strength_used_low": low,
        "strength_used_high": high,
        "wrinkling_used": outcome.modes["yield"].typical,
        "strength_ratio": _known(outcome.strength_ratio),
        "tension_ratio": _known(outcome.tension_ratio),
        "failure_probability": 0.0 if chance is None else chance.added,
        "limb_failure_probability": 0.0 if chance is None else chance.clear,
        "split_length": length,
        "split_course": course,
    }


def _known(ratio: float) -> float:
    return float(ratio) if np.isfinite(ratio) else 1.0


def breaking_used(outcome: LocalOutcome) -> tuple[float, float, float]:
    """Return low, typical and high strength used of what breaks the limb: fibres or a split."""
    fibre, split = outcome.modes["fibre"], outcome.modes["split"]
    return (
        max(fibre.low, split.low),
        max(fibre.typical, split.typical),
        max(fibre.high, split.high),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundLimit:
    """Up to which load a zone is sound by one of the marks of `judge`.

    Attributes
    ----------
    mark : {"break", "typical", "high", "chance", "crushing", "stress"}
    factor : float
        On the judged load; any load below it is sound by that mark.
    place : Place
        Where the mark is reached.
    """

    mark: str
    factor: float
    place: Place


def sound_limits(outcome: LocalOutcome) -> tuple[SoundLimit, ...]:
    """Return the load up to which a zone is sound by each mark of `judge`, the lowest first."""
    fibre, split, crush = (outcome.modes[mode] for mode in ("fibre", "split", "yield"))
    leading = max(fibre, split, key=lambda one: one.typical)
    highest = max(fibre, split, key=lambda one: one.high)
    probability = outcome.probability
    limits = [_limit("crushing", crush.typical, crush.place)]
    if stress := _by_stress(outcome):
        limits.append(_limit("stress", stress / SOUND_HIGH, _pulled_apart(outcome).high_place))
    if probability is None:
        limits += [
            _limit("typical", leading.typical / SOUND_TYPICAL, leading.place),
            _limit("high", highest.high / SOUND_HIGH, highest.high_place),
        ]
    else:
        share = 1.0 / probability.load_factor(SOUND_CHANCE)
        limits += [
            _limit("chance", share, leading.place),
            _limit("break", leading.typical, leading.place),
        ]
    return tuple(sorted(limits, key=lambda one: one.factor))


def sound_factor(outcome: LocalOutcome) -> float:
    """Return the factor on the load below which the zone is sound."""
    return sound_limits(outcome)[0].factor


def _limit(mark: str, share: float, place: Place) -> SoundLimit:
    factor = 1.0 / share if share > 0.0 else float("inf")
    return SoundLimit(mark=mark, factor=factor, place=place)
