"""From strength used to words: what to expect of a knot or a patch."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from limbfe.failure.problem import LocalOutcome, ModeOutcome

Verdict = Literal["sound", "watch", "expect a split", "expect rupture"]
SOUND_TYPICAL = 0.8
SOUND_HIGH = 1.0
SOUND_CHANCE = 0.05
"""A zone is sound when its typical strength used stays below 0.8, the pessimistic end of its band
below 1 and its chance of failure below 1 in 20, and its belly is not crushed: choices, on the
careful side, not standards."""

MODE_NAMES = {
    "fibre": "fibres break",
    "opening": "splits open along the grain",
    "sliding": "splits by sliding along the grain",
    "yield": "is crushed and takes a set",
    "none": "carries nothing",
}


def judge(outcome: LocalOutcome) -> Verdict:
    """Return the verdict on a zone at the load that was judged.

    A zone is sound below the lowest of its `sound_limits`, so that the load they name holds.
    Crushing on the belly is no break: by itself it leads to "watch" at the most.
    """
    if outcome.modes["fibre"].typical >= 1.0:
        return "expect rupture"
    if outcome.modes["split"].typical >= 1.0:
        return "expect a split"
    return "sound" if sound_factor(outcome) > 1.0 else "watch"


def governing_mode(outcome: LocalOutcome) -> ModeOutcome:
    """Return how the zone fails first; crushing only where it is far from breaking.

    A belly that is crushed yields, it does not break, so a break that is near speaks first.
    """
    fibre, split, crush = (outcome.modes[mode] for mode in ("fibre", "split", "yield"))
    breaking = fibre
    if split.typical > fibre.typical:
        breaking = max(
            (outcome.modes[mode] for mode in ("opening", "sliding")), key=lambda one: one.typical
        )
        breaking = replace(split, mode=breaking.mode)
    if crush.typical > breaking.typical and breaking.typical < SOUND_TYPICAL:
        return crush
    return breaking


def first_failure(outcome: LocalOutcome) -> str:
    """Return in words what comes first, and that fibres break besides where they are expected to.

    Of a zone whose split comes first the verdict is still "expect rupture" where the load that
    was judged breaks its fibres too; both are then said.
    """
    first = governing_mode(outcome).mode
    words = MODE_NAMES[first]
    if first != "fibre" and outcome.modes["fibre"].typical >= 1.0:
        words += ", then fibres break"
    return words


def verdict_numbers(outcome: LocalOutcome) -> dict[str, Any]:
    """Return what is reported of a zone: verdict, how it fails, strength used with its band.

    Returns
    -------
    dict
        ``verdict``, ``mode`` (in words), ``strength_used``, ``strength_used_low``,
        ``strength_used_high``, ``strength_ratio`` (1 where the clear strip has no tension) and
        ``failure_probability``.
    """
    governing = governing_mode(outcome)
    ratio, chance = outcome.strength_ratio, outcome.probability
    return {
        "verdict": judge(outcome),
        "mode": first_failure(outcome),
        "strength_used": governing.typical,
        "strength_used_low": governing.low,
        "strength_used_high": governing.high,
        "strength_ratio": float(ratio) if np.isfinite(ratio) else 1.0,
        "failure_probability": 0.0 if chance is None else chance.either,
    }


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
    mark : {"typical", "high", "chance", "crushing"}
    factor : float
        On the judged load; any load below it is sound by that mark.
    place : tuple of float, m
        Where on the slices, (y, z), the mark is reached.
    """

    mark: str
    factor: float
    place: tuple[float, float]


def sound_limits(outcome: LocalOutcome) -> tuple[SoundLimit, ...]:
    """Return the load up to which a zone is sound by each mark of `judge`, the lowest first."""
    fibre, split, crush = (outcome.modes[mode] for mode in ("fibre", "split", "yield"))
    leading = max(fibre, split, key=lambda one: one.typical)
    highest = max(fibre, split, key=lambda one: one.high)
    probability = outcome.probability
    limits = [
        _limit("typical", leading.typical / SOUND_TYPICAL, leading.y, leading.z),
        _limit("high", highest.high / SOUND_HIGH, highest.high_y, highest.high_z),
        _limit("crushing", crush.typical, crush.y, crush.z),
    ]
    if probability is not None:
        share = 1.0 / probability.load_factor(SOUND_CHANCE)
        limits.append(_limit("chance", share, leading.y, leading.z))
    return tuple(sorted(limits, key=lambda one: one.factor))


def sound_factor(outcome: LocalOutcome) -> float:
    """Return the factor on the load below which the zone is sound."""
    return sound_limits(outcome)[0].factor


def _limit(mark: str, share: float, y: float, z: float) -> SoundLimit:
    factor = 1.0 / share if share > 0.0 else float("inf")
    return SoundLimit(mark=mark, factor=factor, place=(y, z))
