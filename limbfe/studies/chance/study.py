"""The study: the bow of the case, a hundred others drawn in full, tens of thousands of quick ones.

Every figure is the same for a seed, however many processes there are: the design of the bows that
are drawn in full is always the same, and quick bows come in batches with a stream of their own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.cautions import STANDING_CAUTIONS
from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.kept import kept_set
from limbfe.analysis.bow.model import LimbModel, build_model
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.analysis.wood.stretched import link_parts, skin_tension
from limbfe.analysis.wood.when_braced import when_braced
from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.errors import CaseError, LimbfeError
from limbfe.failure.indices import Index, variance_indices
from limbfe.failure.reliability import SURE, Share, counted_share, subset_simulation
from limbfe.frames import Array, read_only
from limbfe.studies.chance.advice import steps
from limbfe.studies.chance.asked import Asked
from limbfe.studies.chance.assumed import chance_assumptions
from limbfe.studies.chance.bows import BY_STATION, FULL, WAY, Plan, design_setup, drawn_in_full
from limbfe.studies.chance.design import (
    QuickBow,
    as_change,
    design,
    quick_bow,
    way_lengths,
    worst_of,
)
from limbfe.studies.chance.inputs import STRENGTHS, Inputs, build_inputs
from limbfe.studies.chance.quick import CLEAR, Bows, Chances, quick_bows
from limbfe.studies.chance.results import Chance, Spread
from limbfe.studies.chance.zones import ZoneTable, judged_at_size, zone_plans, zone_tables
from limbfe.studies.sweep.moisture import moist_setup
from limbfe.studies.tasks.run import TaskFailure, Tell, run_tasks
from limbfe.units import Sentence, Words, both_lengths

_BATCH = 2000
_RARE = 50
"""Failures among the samples below which a chance is found by subset simulation."""
_FEW = 200
"""Survivors below which nothing is told of them."""
_INDEX_SAMPLES = 4096
_LENGTHS = 13
_MOISTER = 0.01
"""Step (fraction) of the difference quotient by moisture."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Own:
    """The bow of the case, and the strength that its clear wood uses in tension."""

    solved: SolvedBow
    force: float
    kept: float
    tension: float


def chance_of(
    case: Case,
    asked: Asked,
    *,
    workers: int | None = None,
    executor: Executor | None = None,
    journal: Path | None = None,
    tell: Tell | None = None,
) -> Chance:
    """Return how likely a bow holds, what it draws, and what to measure next.

    Parameters
    ----------
    case : Case
    asked : Asked
    workers, executor, journal, tell
        See `limbfe.studies.tasks.run.run_tasks`; they do not change the result.

    Raises
    ------
    CaseError
        If a measuring error or the draw it has held do not fit the bow.
    ConvergenceError
        If the bow of the case, or most of those its wood may make, cannot be drawn.
    GeometryError
        If a knot or patch has no local model.
    MaterialError
        If the spreads of the wood contradict each other.
    """
    own = _own(case)
    start, full = own.solved.first_pull.braced.draw_length, case.file.draw.length
    _check_held(asked.held, start, full)
    model = build_model(design_setup(case))
    plans = zone_plans(case)
    bows = asked.bows if asked.spread.scatter > 0.0 else 0
    total = len(plans) + bows + 1
    error = asked.spread
    measures = f"{error.calliper} {error.tape} {error.scatter}"
    study = f"chance {asked.bows} {measures} {case.digest}"

    def run(work: Any, tasks: Mapping[str, Any], before: int) -> dict[str, Any]:
        def told(done: int, _: int) -> None:
            if tell is not None:
                tell(before + done, total)

        return run_tasks(
            work, tasks, study=study, workers=workers, executor=executor, journal=journal,
            tell=told,
        )  # fmt: skip

    judged = {
        name: None if isinstance(one, TaskFailure) else one
        for name, one in (run(judged_at_size, plans, 0) if plans else {}).items()
    }
    tables, words = zone_tables(case, judged, model.stations.x)
    inputs = build_inputs(
        build_setup(case),
        asked.spread,
        _moisture_rates(case),
        tuple(table.kind for table in tables),
        np.array([table.demands.beside.extra for table in tables]),
    )
    points, spread = design(inputs, bows)
    rows = [np.zeros(len(spread)), *points]
    sites = tuple(table.site for table in tables)
    tasks = {
        "bow of the case" if k == 0 else f"bow {k}": Plan(
            case=case, change=as_change(row), sites=sites, give=model.zones
        )
        for k, row in enumerate(rows)
    }
    drawn = run(drawn_in_full, tasks, len(plans))
    chances = _chances(own, inputs, model, tables, points, spread, list(drawn.values()))
    return _told(case, asked, own, chances, words)


def _own(case: Case) -> _Own:
    solved = exercised_bow(build_setup(case), beyond=False)
    parts = link_parts(solved.model.stations, solved.section)
    return _Own(
        solved=solved,
        force=solved.full_draw.draw_force,
        kept=kept_set(solved, bounds=False).mean,
        tension=float(skin_tension(parts, limb_load(solved).skin).max()),
    )


def _check_held(held: float | None, start: float, full: float) -> None:
    if held is None:
        return
    end = start + WAY[-1] * (full - start)
    if not start < held <= end:
        raise CaseError(
            f"held {both_lengths(held)}: must lie beyond the braced string "
            f"({both_lengths(start)}) and within {both_lengths(end)}, as far as bows are drawn here"
        )


def _moisture_rates(case: Case) -> Array:
    """Return the change of the logarithms of `STRENGTHS` per unit of moisture, shape (5,)."""
    wood = build_setup(case).stave.heartwood
    if wood.species is None or wood.moisture is None:
        return np.zeros(len(STRENGTHS))
    ends = []
    for step in (_MOISTER, -_MOISTER):
        try:
            moved = moist_setup(case, wood.moisture + step).stave.heartwood
        except LimbfeError:
            # at the end of what the table adjusts to the change is taken from the other side
            moved, step = wood, 0.0
        strength = moved.strength
        figures = (moved.elasticity.E_L, strength.tension, strength.compression,
                   strength.tension_across, strength.shear)  # fmt: skip
        ends.append((step, np.log(figures)))
    (up, high), (down, low) = ends
    return np.asarray((high - low) / (up - down)) if up > down else np.zeros(len(STRENGTHS))


def _chances(
    own: _Own,
    inputs: Inputs,
    model: LimbModel,
    tables: tuple[ZoneTable, ...],
    points: Array,
    spread: Array,
    drawn: list[Any],
) -> Chances:
    """Return the quick bow with the figures of the case behind it."""
    first, *others = drawn
    if isinstance(first, TaskFailure):
        raise LimbfeError(f"chance: the bow of the case: {first.message}")
    results = [None if isinstance(one, TaskFailure) else one for one in others]
    reasons = [one.message for one in others if isinstance(one, TaskFailure)]
    bow = quick_bow(points, spread, first, results, reasons[0] if reasons else "")
    start, full = own.solved.first_pull.braced.draw_length, model.setup.drawing.length
    force = np.exp(np.array(first["force"][: bow.reached]))
    force[0] = 0.0
    used = {name: np.array(first[name][: bow.reached]) for name in BY_STATION}
    whole = worst_of("links", used["links"].reshape(1, -1), bow.reached)[0, FULL]
    if own.tension > 0.0:
        used["links"] = used["links"] + np.log(own.tension) - whole
    sites = np.array(first["sites"][: bow.reached]).reshape(bow.reached, -1)
    return Chances(
        inputs=inputs,
        bow=bow,
        lengths=read_only(way_lengths(start, full, bow.reached)),
        force=read_only(force * own.force / force[FULL]),
        kept=own.kept,
        used=used,
        x=model.stations.x,
        sites=read_only(sites - sites[FULL]),
        zones=tables,
    )


def sampled(chances: Chances, samples: int, seed: int) -> Bows:
    """Return so many quick bows, batch by batch, each with its own stream."""
    count = -(-samples // _BATCH)
    streams = np.random.SeedSequence(seed).spawn(count)
    parts = [
        quick_bows(
            chances,
            np.random.default_rng(stream).standard_normal(
                (min(_BATCH, samples - k * _BATCH), chances.columns)
            ),
        )
        for k, stream in enumerate(streams)
    ]
    return Bows(
        **{
            one.name: np.concatenate([getattr(part, one.name) for part in parts])
            for one in fields(Bows)
        }
    )


def in_batches(chances: Chances, u: Array) -> Iterator[Bows]:
    """Yield the quick bows of many samples, so that they fit into memory."""
    for k in range(0, len(u), _BATCH):
        yield quick_bows(chances, u[k : k + _BATCH])


def _told(
    case: Case, asked: Asked, own: _Own, chances: Chances, words: tuple[Words, ...]
) -> Chance:
    """Return the figures of the sampled bows."""
    bows = sampled(chances, asked.samples, asked.seed)
    first, everyone = bows.first, np.ones(asked.samples, dtype=bool)
    kept = everyone if asked.held is None else first > asked.held
    surviving = counted_share(int(kept.sum()), asked.samples)
    if kept.sum() < _FEW:
        raise CaseError(
            f"held {both_lengths(asked.held or 0.0)}: of {asked.samples} bows that this wood may "
            f"make only {int(kept.sum())} would have borne that; the case does not describe this "
            "bow: measure it again, fit it, or take more samples"
        )
    chances_at, rare = _at_draw(chances, bows, kept, asked)
    indices = _indices(chances, asked)
    wood = own.solved.model.setup.stave.heartwood
    return Chance(
        title=case.title,
        samples=asked.samples,
        seed=asked.seed,
        zones=tuple(table.name for table in chances.zones),
        draw_length=chances.full,
        held=asked.held,
        surviving=surviving,
        draw_weight=spread_of(bows.force[kept, FULL], own.force),
        kept=spread_of(bows.kept[kept], own.kept),
        chances=chances_at,
        rare=rare,
        by_draw=_by_draw(chances, first, kept, bows.archer),
        first=_first(chances, bows, kept),
        place=chances.x,
        starts=_starts(chances, bows, kept),
        fan=_fan(chances, bows.force[kept]),
        indices=indices,
        steps=steps(chances, indices),
        quick=_quick(chances.bow),
        cautions=(
            *when_braced(own.solved),
            *own.solved.warnings,
            *words,
            *_cautions(chances, asked),
            *STANDING_CAUTIONS,
        ),
        assumptions=tuple(chance_assumptions(wood, chances.inputs)),
    )


def _cautions(chances: Chances, asked: Asked) -> Iterator[Words]:
    bow = chances.bow
    yield (
        "no bow of wood was measured for this: the spread is that of the wood, of the measures and "
        "of the strength calculation, not of what the model of a bow may itself be wrong by"
    )
    if bow.failed:
        yield Sentence(
            "of {} bows drawn in full {} could not be drawn: {}; as weak a belly counts as broken",
            bow.drawn + bow.failed, bow.failed, bow.reason,
        )  # fmt: skip
    if asked.held is not None:
        yield (
            "what it has held counts only if that did not hurt it: with a new crack, fret or "
            "lifted splinter it is no longer the bow that held"
        )
    if asked.held is not None and asked.held >= chances.full:
        yield "it has held more than it is asked to: what is left is wear, which is not counted"


def spread_of(values: Array, own: float) -> Spread:
    """Return the spread of a quantity over bows, with bounds on its mean and percentiles."""
    order = np.sort(values)
    n = len(order)

    def percentile(share: float) -> float:
        return float(np.quantile(order, share))

    def bounds(share: float) -> tuple[float, float]:
        off = SURE * np.sqrt(n * share * (1.0 - share))
        ranks = np.clip([n * share - off, n * share + off], 0, n - 1).astype(int)
        return float(order[ranks[0]]), float(order[ranks[1]])

    # from the case's own figure, which is met exactly where nothing scatters
    mean, sd = own + float((order - own).mean()), float((order - own).std())
    half = SURE * sd / np.sqrt(n)
    return Spread(
        own=own,
        mean=mean,
        sd=sd,
        p5=percentile(0.05),
        p50=percentile(0.5),
        p95=percentile(0.95),
        off={"mean": (mean - half, mean + half), "p5": bounds(0.05), "p95": bounds(0.95)},
    )


def _at_draw(
    chances: Chances, bows: Bows, kept: NDArray[np.bool_], asked: Asked
) -> tuple[dict[str, Share], dict[str, float]]:
    """Return the chances at full draw, and the scatter of those found as rare ones."""
    draw = chances.full + bows.archer
    ends = {
        "any": bows.first,
        "split": bows.split.min(axis=1, initial=np.inf),
        "rupture": bows.zone.min(axis=1, initial=np.inf),
        "clear_wood": bows.limb.min(axis=1),
        "frets": bows.frets,
    }
    counts = {name: int(((at <= draw) & kept).sum()) for name, at in ends.items()}
    found = {name: counted_share(count, int(kept.sum())) for name, count in counts.items()}
    rare: dict[str, float] = {}
    if counts["any"] < _RARE and asked.held is None and asked.spread.scatter > 0.0:

        def margin(u: Array) -> Array:
            return np.concatenate([one.used for one in in_batches(chances, u)])

        rng = np.random.default_rng(np.random.SeedSequence([asked.seed, 1]))
        estimate = subset_simulation(margin, chances.columns, rng)
        found["any"], rare["any"] = estimate.share, estimate.scatter
    return found, rare


def _by_draw(
    chances: Chances, first: Array, kept: NDArray[np.bool_], archer: Array
) -> dict[str, Array]:
    lengths = np.linspace(chances.lengths[1], chances.lengths[-1], _LENGTHS)
    lengths = np.unique(np.append(lengths, chances.full))
    those, of = first - archer, int(kept.sum())
    shares = [counted_share(int(((those <= at) & kept).sum()), of) for at in lengths]
    return {
        "draw_length": lengths,
        "any": np.array([one.value for one in shares]),
        "any_low": np.array([one.low for one in shares]),
        "any_high": np.array([one.high for one in shares]),
        "all": np.array([(those <= at).mean() for at in lengths]),
    }


def _first(chances: Chances, bows: Bows, kept: NDArray[np.bool_]) -> dict[str, Share]:
    """Return which way of failing comes first, of the bows that fail as far as they are drawn."""
    names = [
        *(f"clear wood: {name}" for name in CLEAR),
        *(f"{table.kind} {table.name}: breaks" for table in chances.zones),
        *(f"{table.kind} {table.name}: splits" for table in chances.zones),
    ]
    ends = np.concatenate([bows.limb, bows.zone, bows.split], axis=1)[kept]
    ends = ends[ends.min(axis=1) <= chances.lengths[-1]]
    count = np.bincount(ends.argmin(axis=1), minlength=len(names))
    return {
        name: counted_share(int(n), len(ends)) for name, n in zip(names, count, strict=True) if n
    }


def _starts(chances: Chances, bows: Bows, kept: NDArray[np.bool_]) -> Array:
    """Return the share of breaks of clear wood in tension that start at each station."""
    breaks = kept & (bows.limb[:, 0] <= chances.lengths[-1])
    count = np.bincount(bows.where[breaks], minlength=len(chances.x))
    return np.asarray(count / max(int(breaks.sum()), 1))


def _fan(chances: Chances, force: Array) -> dict[str, Array]:
    low, middle, high = np.quantile(force, [0.05, 0.5, 0.95], axis=0)
    return {"draw_length": chances.lengths, "low": low, "middle": middle, "high": high}


def _indices(chances: Chances, asked: Asked) -> dict[str, dict[str, Index]]:
    if asked.spread.scatter == 0.0:
        return {}
    rng = np.random.default_rng(np.random.SeedSequence([asked.seed, 2]))
    first, second = rng.standard_normal((2, _INDEX_SAMPLES, chances.columns))

    def model(u: Array) -> dict[str, Array]:
        parts = list(in_batches(chances, u))
        return {
            "draw weight": np.concatenate([part.force[:, FULL] for part in parts]),
            "failure": np.concatenate([part.used for part in parts]),
        }

    return variance_indices(model, chances.groups, first, second)


def _quick(bow: QuickBow) -> dict[str, float]:
    return {
        "draw_weight": float(bow.error["force"][FULL]),
        "strength_used": float(bow.error["links"][FULL]),
        "set_mm": 1e3 * float(bow.error["set"][0]),
        "drawn": float(bow.drawn),
        "failed": float(bow.failed),
    }
