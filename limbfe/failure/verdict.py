"""From strength used to words: what to expect of a knot or a patch."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal

import numpy as np

from limbfe.failure.problem import LocalOutcome, ModeOutcome

Verdict = Literal["sound", "watch", "expect a split", "expect rupture"]
SOUND_TYPICAL = 0.8
SOUND_HIGH = 1.0
SOUND_CHANCE = 0.05
"""A zone is sound when its typical strength used stays below 0.8, the pessimistic end of its band
below 1 and its chance of failure below 1 in 20: choices, on the careful side, not standards."""

MODE_NAMES = {
    "fibre": "fibres break",
    "opening": "splits open along the grain",
    "sliding": "splits by sliding along the grain",
    "yield": "is crushed and takes a set",
    "none": "carries nothing",
}


def judge(outcome: LocalOutcome) -> Verdict:
    """Return the verdict on a zone at the load that was judged.

    Crushing on the belly is no break: by itself it leads to "watch" at the most.
    """
    fibre, split, crush = (outcome.modes[mode] for mode in ("fibre", "split", "yield"))
    if fibre.typical >= 1.0:
        return "expect rupture"
    if split.typical >= 1.0:
        return "expect a split"
    chance = 0.0 if outcome.probability is None else outcome.probability.either
    high = max(fibre.high, split.high)
    typical = max(fibre.typical, split.typical)
    if typical >= SOUND_TYPICAL or high >= SOUND_HIGH or chance >= SOUND_CHANCE:
        return "watch"
    return "watch" if crush.typical >= 1.0 else "sound"


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


def sound_place(outcome: LocalOutcome) -> tuple[float, float]:
    """Return where on the slices, (y, z), what keeps the zone from being sound is found."""
    return max(_sound_shares(outcome))[1]


def _sound_shares(outcome: LocalOutcome) -> list[tuple[float, tuple[float, float]]]:
    """Load over that at which each way of breaking is sound, by each criterion, and its place."""
    shares = []
    for mode in (outcome.modes["fibre"], outcome.modes["split"]):
        shares.append((mode.typical / SOUND_TYPICAL, (mode.y, mode.z)))
        shares.append((mode.high / SOUND_HIGH, (mode.high_y, mode.high_z)))
    return shares


def sound_factor(outcome: LocalOutcome) -> float:
    """Return the factor on the load at which the zone's strength used becomes sound."""
    worst = max(share for share, _ in _sound_shares(outcome))
    return float("inf") if worst <= 0.0 else 1.0 / worst
