"""Judgement of one zone: stress at every depth, windows, strength used by mode."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache

import numpy as np
from threadpoolctl import ThreadpoolController

from limbfe.failure.probability import (
    Demand,
    Probability,
    failure_probability,
    size_factor,
    weibull_shape,
)
from limbfe.failure.problem import (
    LocalOutcome,
    LocalProblem,
    ModeOutcome,
    StressField,
    factors,
    trace_of,
)
from limbfe.failure.slice_judge import (
    MODES,
    SliceResult,
    Stage,
    geometry_key,
    judge_band,
    judge_slice,
    prepare,
)

NEAR_WORST = 0.7
"""A slice whose strength used stays below this part of the worst slice's in every mode is not
tried over the band: its band would have to be half as wide again as theirs to lead."""

StageCache = dict[tuple[object, ...], Stage]
"""Meshed and factorised slices by what they depend on, the load left out."""


@cache
def _threads() -> ThreadpoolController:
    """Return the hold on the libraries' threads; to look for the libraries takes a while."""
    return ThreadpoolController()


def judge_zone(
    problem: LocalProblem,
    rng: np.random.Generator | None = None,
    stages: StageCache | None = None,
) -> LocalOutcome:
    """Judge one zone at the load its slices carry.

    Parameters
    ----------
    problem : LocalProblem
    rng : numpy.random.Generator, optional
        For the chance of failure; none is worked out without it.
    stages : dict, optional
        Filled with the factorised slices, and taken from when the same zone is judged again under
        another load; of one problem's band, ends and element size only.

    Raises
    ------
    GeometryError
        If the zone overlaps another or spans the limb.
    ConvergenceError
        If a slice cannot be solved.
    ValueError
        If a generator is given and a slice does not say how its wood scatters.
    """
    if rng is not None and any(piece.scatter is None for piece in problem.slices):
        raise ValueError("a chance of failure needs the scatter of every slice's wood")
    stages = {} if stages is None else stages
    # The matrices are small: threads of a BLAS gain nothing, and wait for each other on a busy
    # machine.
    with _threads().limit(limits=1, user_api="blas"):
        return _judge(problem, rng, stages)


def _judge(
    problem: LocalProblem, rng: np.random.Generator | None, stages: StageCache
) -> LocalOutcome:
    results = _judge_slices(problem, stages, unglued=False)
    outcome = _gather(problem, results)
    bond = max(r.bond for r in results)
    if bond > 0.0:
        loose = _gather(problem, _judge_slices(problem, stages, unglued=True))
        outcome = _with_bond(outcome, loose, bond)
    if rng is not None:
        outcome = replace(outcome, probability=_probability(results, outcome, rng))
    return outcome


def _judge_slices(
    problem: LocalProblem, stages: StageCache, unglued: bool
) -> tuple[SliceResult, ...]:
    """Judge every slice; the band only where it may lead."""
    results: list[SliceResult] = []
    laid: list[Stage] = []
    for piece in problem.slices:
        focus = trace_of(piece, problem.zone)
        if focus is None:
            continue
        key = (unglued, geometry_key(piece))
        if key not in stages:
            stages[key] = prepare(problem, piece, focus, unglued)
        laid.append(stages[key])
        results.append(judge_slice(problem, piece, focus, stages[key]))
    if problem.rough:
        return tuple(results)
    worst = {mode: max(r.modes[mode].typical for r in results) for mode in MODES}
    return tuple(
        judge_band(problem, r, stage)
        if any(r.modes[mode].typical >= NEAR_WORST * worst[mode] > 0.0 for mode in MODES)
        else r
        for r, stage in zip(results, laid, strict=True)
    )


def _gather(problem: LocalProblem, results: tuple[SliceResult, ...]) -> LocalOutcome:
    """Worst of the slices, mode by mode."""
    modes: dict[str, ModeOutcome] = {}
    for mode in MODES:
        worst = max(results, key=lambda r: r.modes[mode].typical).modes[mode]
        leading = max(results, key=lambda r: r.modes[mode].high).modes[mode]
        modes[mode] = replace(
            worst,
            low=max(r.modes[mode].low for r in results),
            high=leading.high,
            high_y=leading.y,
            high_z=leading.z,
        )
    clear = {mode: max(r.clear[mode] for r in results) for mode in MODES}
    fields = tuple(r.field for r in results if r.field is not None)
    return _finish(problem.zone, modes, clear, 0.0, fields)


def _finish(
    zone: str,
    modes: Mapping[str, ModeOutcome],
    clear: Mapping[str, float],
    bond: float,
    fields: tuple[StressField, ...],
) -> LocalOutcome:
    # "split" holds opening and sliding together, so it cannot be less than either.
    ways = [modes[mode] for mode in ("split", "opening", "sliding")]
    leading = max(ways, key=lambda one: one.high)
    split = replace(
        max(ways, key=lambda one: one.typical),
        mode="split",
        low=max(one.low for one in ways),
        high=leading.high,
        high_y=leading.high_y,
        high_z=leading.high_z,
    )
    modes = {**modes, "split": split}
    with_zone = modes["fibre"].typical
    return LocalOutcome(
        zone=zone,
        modes=modes,
        rupture=factors(modes["fibre"]),
        split=factors(split),
        strength_ratio=clear["fibre"] / with_zone if with_zone > 0.0 else np.nan,
        clear=clear,
        bond_used=bond,
        probability=None,
        fields=fields,
    )


def _with_bond(glued: LocalOutcome, loose: LocalOutcome, bond: float) -> LocalOutcome:
    """Join the answers with and without the bond of a filling.

    A mode is reached with the bond intact, or when the bond lets go, or later without it.
    """

    def joined(tied: float, free: float) -> float:
        if tied >= bond:
            return tied
        return min(bond, free)

    modes = {}
    for mode, tied in glued.modes.items():
        free = loose.modes[mode]
        place = tied if tied.typical >= min(bond, free.typical) else free
        modes[mode] = replace(
            place,
            low=joined(tied.low, free.low),
            typical=joined(tied.typical, free.typical),
            high=joined(tied.high, free.high),
        )
    fields = glued.fields if bond <= 1.0 else loose.fields
    return _finish(glued.zone, modes, glued.clear, bond, fields)


def _probability(
    results: tuple[SliceResult, ...], outcome: LocalOutcome, rng: np.random.Generator
) -> Probability:
    """Return the chance of failure, by the scatter of the wood on the slice that leads."""
    leading = max(results, key=lambda r: max(r.modes["fibre"].typical, r.modes["split"].typical))
    scatter = leading.piece.scatter
    assert scatter is not None

    def size(mode: str, cov: float, test_volume: float) -> float:
        within = cov * np.sqrt(scatter.within)
        if within <= 0.005:
            return 1.0
        stress = np.concatenate([r.typical[mode].value for r in results])
        volume = np.concatenate([r.volume[mode] for r in results])
        return size_factor(stress, volume, test_volume, weibull_shape(within))

    fibre = size("fibre", scatter.tension, scatter.volume_fibre)
    opening = size("opening", scatter.tension_across, scatter.volume_split)
    sliding = size("sliding", scatter.shear, scatter.volume_split)

    def demand(mode: str, **parts: float) -> Demand:
        one = outcome.modes[mode]
        return Demand(low=one.low, typical=one.typical, high=one.high, **parts)

    mix = outcome.modes["split"].mix
    splits = (
        demand("opening", opening=1.0 / opening),
        demand("sliding", sliding=1.0 / sliding),
        demand("split", opening=np.cos(mix) / opening, sliding=np.sin(mix) / sliding),
    )
    return failure_probability(demand("fibre", fibre=1.0 / fibre), splits, scatter, rng)
