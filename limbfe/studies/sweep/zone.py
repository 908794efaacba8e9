"""One knot or patch over a range of sizes, places or draw lengths: where it stops being sound.

The bow is drawn once, as the case has it.  Every size and place is then put in the zone's stead
and judged by its own local model under the strain of the clear limb on both sides: a zone of
another size changes the bending of the whole bow by next to nothing.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.model import LimbModel
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.known_draws import KnownDraws, known_draws
from limbfe.analysis.wood.limb_load import LimbLoad
from limbfe.analysis.wood.when_braced import when_braced
from limbfe.analysis.zones.verdicts import SEED, local_problem
from limbfe.case.build import bare_stave, build_setup, build_stave
from limbfe.case.checks import file_problems
from limbfe.case.schema import Case
from limbfe.case.zone_checks import zone_problems
from limbfe.case.zone_tables import DecayTable, KnotTable
from limbfe.errors import CaseError, ConvergenceError, LimbfeError
from limbfe.failure.local import StageCache, judge_zone
from limbfe.failure.problem import LocalProblem
from limbfe.failure.verdict import verdict_numbers
from limbfe.frames import Array
from limbfe.rows import Row, flat_row
from limbfe.stave.named_zones import Zone, find_zone, no_such_zone, with_zone
from limbfe.stave.stave import Stave
from limbfe.studies.tasks.run import (
    Made,
    TaskFailure,
    Tell,
    available_cores,
    run_tasks,
    worker_pool,
)
from limbfe.units import Words, both_lengths
from limbfe.version import __version__

KNOT_AXES = ("diameter", "across")
DECAY_AXES = ("length", "width", "depth", "across")
DRAW = "draw"
MOST_POINTS = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """What is varied.

    Attributes
    ----------
    name : {"diameter", "length", "width", "depth", "across", "draw"}
    values : tuple of float, m
    """

    name: str
    values: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepPoint:
    """One judgement.

    Attributes
    ----------
    values : tuple of float, m
        One for each axis.
    result : mapping or None
        As `limbfe.failure.verdict.verdict_numbers`; None where the zone could not be judged.
    failure : str
        Why not.
    """

    values: tuple[float, ...]
    result: Mapping[str, Any] | None
    failure: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sweep:
    """A zone over one or two ranges.

    Attributes
    ----------
    title : str
        Of the case.
    name, kind, limb : str
    at : float, m
        From the middle of the grip.
    axes : tuple of Axis
    own : tuple of float, m
        What the case itself has on each axis.
    points : tuple of SweepPoint
        The last axis runs fastest.
    when_braced : tuple of str or Sentence
        Where the bow, as the case has it, breaks or gives way while it is braced.
    """

    title: str
    name: str
    kind: str
    limb: str
    at: float
    axes: tuple[Axis, ...]
    own: tuple[float, ...]
    points: tuple[SweepPoint, ...]
    when_braced: tuple[Words, ...] = ()

    def column(self, key: str) -> Array:
        """Return one number of every point, shape of the axes; nan where it was not judged."""
        values = [np.nan if p.result is None else p.result[key] for p in self.points]
        return np.array(values).reshape([len(axis.values) for axis in self.axes])

    def to_dict(self) -> dict[str, Any]:
        """Return everything, units in the keys."""
        return {
            "case": self.title,
            "when_braced": [str(one) for one in self.when_braced],
            "version": __version__,
            "name": self.name,
            "kind": self.kind,
            "limb": self.limb,
            "at_mm": 1e3 * self.at,
            "axes": [
                {
                    "name": axis.name,
                    "values_mm": [1e3 * v for v in axis.values],
                    "own_mm": 1e3 * own,
                }
                for axis, own in zip(self.axes, self.own, strict=True)
            ],
            "points": [self._point(point) for point in self.points],
        }

    def rows(self) -> list[Row]:
        """Return the judgements, a row each."""
        return [flat_row(self._point(point)) for point in self.points]

    def _point(self, point: SweepPoint) -> dict[str, Any]:
        place = {
            f"{axis.name}_mm": 1e3 * value
            for axis, value in zip(self.axes, point.values, strict=True)
        }
        if point.result is None:
            return {**place, "not_judged": point.failure}
        return {**place, **point.result}


def sweep_zone(
    case: Case,
    name: str,
    axes: tuple[Axis, ...],
    *,
    workers: int | None = None,
    executor: Executor | None = None,
    tell: Tell | None = None,
) -> Sweep:
    """Judge one knot or patch at every combination of the values of one or two axes.

    Parameters
    ----------
    case : Case
    name : str
        Of the knot or patch.
    axes : tuple of Axis
    workers, executor
        See `limbfe.studies.tasks.run.run_tasks`.
    tell : callable, optional
        Told after every shape how many of how many are judged.

    Raises
    ------
    CaseError
        If there is no such zone, an axis does not belong to it, or a value does not fit the limb.
    ConvergenceError
        If the bow cannot be drawn to the longest draw length.
    """
    table = _table(case, name)
    _check_axes(table, axes)
    shape_axes = tuple(axis for axis in axes if axis.name != DRAW)
    shapes = [
        dict(zip((axis.name for axis in shape_axes), values, strict=True))
        for values in itertools.product(*(axis.values for axis in shape_axes))
    ]
    bare = bare_stave(case)
    varied = [_vary(case, table, shape, bare) for shape in shapes]
    lengths = next((axis.values for axis in axes if axis.name == DRAW), (case.file.draw.length,))
    _check_draw(case, max(lengths))
    start = min(workers or available_cores(), len(shapes))
    with worker_pool(start, executor, ready=_ready) as pool:
        solved, zone = _drawn(case, name, lengths)
        known = known_draws(solved)
        loads = [_load(known, length) for length in lengths]
        zones = {
            _label(shape): one if shape else zone for shape, one in zip(shapes, varied, strict=True)
        }

        def series(label: str) -> tuple[LocalProblem | str, ...]:
            return _series(solved.model, zones[label], zone, loads)

        found = run_tasks(
            _judge_series,
            Made(zones, series),
            study=f"sweep {name} {case.digest}",
            workers=workers,
            executor=pool,
            tell=tell,
        )
    judged = {
        (*shape.values(), length): _outcome(found[_label(shape)], k)
        for shape in shapes
        for k, length in enumerate(lengths)
    }
    own = {**{a: getattr(table, a) for a in _axes_of(table)}, DRAW: case.file.draw.length}
    return Sweep(
        title=case.title,
        name=name,
        kind="knot" if isinstance(table, KnotTable) else "decay",
        limb=table.limb,
        at=table.at,
        axes=axes,
        own=tuple(own[axis.name] for axis in axes),
        points=_points(axes, shape_axes, lengths, judged),
        when_braced=when_braced(solved),
    )


def _drawn(case: Case, name: str, lengths: tuple[float, ...]) -> tuple[SolvedBow, Zone]:
    """Return the bow as the case has it, drawn, and its zone."""
    setup = adjust(build_setup(case), drawing={"length": max(lengths)})
    solved = exercised_bow(setup, through=tuple(lengths), beyond=False)
    if min(lengths) < solved.braced.draw_length:
        raise CaseError(
            f"--draw {both_lengths(min(lengths))}: the braced string already stands at "
            f"{both_lengths(solved.braced.draw_length)}; begin beyond that"
        )
    zone = find_zone(setup.stave, name)
    if abs(zone.extent[0]) <= setup.stave.half_grip:
        raise CaseError(
            f'"{name}": lies in the stiff grip, which does not bend; there is nothing to sweep'
        )
    return solved, zone


def _ready() -> None:
    """Let a process load this module while the bow is drawn."""


def _table(case: Case, name: str) -> KnotTable | DecayTable:
    tables: tuple[KnotTable | DecayTable, ...] = (*case.file.knot, *case.file.decay)
    for table in tables:
        if table.name == name:
            return table
    raise no_such_zone(name, (table.name for table in tables))


def _axes_of(table: KnotTable | DecayTable) -> tuple[str, ...]:
    return KNOT_AXES if isinstance(table, KnotTable) else DECAY_AXES


def _check_axes(table: KnotTable | DecayTable, axes: tuple[Axis, ...]) -> None:
    known = (*_axes_of(table), DRAW)
    kind = "knot" if isinstance(table, KnotTable) else "patch of decay"
    options = ", ".join(f"--{name}" for name in known)
    if not 1 <= len(axes) <= 2:
        raise CaseError(
            f"sweep: {len(axes)} ranges given; give one, or two for a family of lines ({options})"
        )
    for axis in axes:
        if axis.name not in known:
            raise CaseError(
                f'--{axis.name}: "{table.name}" is a {kind} and has no {axis.name}; it can be '
                f"swept by {options}"
            )
    count = int(np.prod([len(axis.values) for axis in axes]))
    if count > MOST_POINTS:
        raise CaseError(f"sweep: {count} combinations; at most {MOST_POINTS}: take larger steps")


def _vary(
    case: Case, table: KnotTable | DecayTable, shape: Mapping[str, float], bare: Stave
) -> Zone:
    """Return the zone with another size or place; a cone keeps its taper."""
    changes: dict[str, float] = dict(shape)
    for name, value in shape.items():
        if name != "across" and value <= 0.0:
            raise CaseError(f"--{name} {both_lengths(value)}: must be above zero")
    if isinstance(table, KnotTable) and table.far_diameter is not None and "diameter" in shape:
        changes["far_diameter"] = table.far_diameter * shape["diameter"] / table.diameter
    other = table.model_copy(update=changes)
    key = "knot" if isinstance(table, KnotTable) else "decay"
    tables = tuple(other if one is table else one for one in getattr(case.file, key))
    file = case.file.model_copy(update={key: tables})
    changed = replace(case, file=file)
    for problem in zone_problems(file, bare):
        said = ", ".join(f"--{name} {both_lengths(value)}" for name, value in shape.items())
        raise CaseError(f'{said}: "{table.name}" {problem.loc[-1]}: {problem.reason}')
    return find_zone(build_stave(changed, bare), table.name)


def _check_draw(case: Case, length: float) -> None:
    """Refuse a draw length that the case file could not hold."""
    draw = case.file.draw.model_copy(update={"length": length})
    for problem in file_problems(case.file.model_copy(update={"draw": draw})):
        raise CaseError(f"--draw {both_lengths(length)}: {problem.reason}")


def _load(known: KnownDraws, length: float) -> LimbLoad:
    """Return the load at a draw length of the bow exercised to it."""
    return known.load(int(np.abs(known.lengths[1:] - length).argmin()) + 1)


def _series(
    model: LimbModel, zone: Zone, drawn: Zone, loads: list[LimbLoad]
) -> tuple[LocalProblem | str, ...]:
    """Return the local problem of a zone under each load, or why there is none."""
    own = None if zone is drawn else with_zone(model.setup.stave, zone)
    return tuple(_problem(model, load, zone, own) for load in loads)


def _problem(
    model: LimbModel, load: LimbLoad, zone: Zone, stave: Stave | None
) -> LocalProblem | str:
    try:
        problem, _ = local_problem(model, load, zone, stave)
    except ConvergenceError as error:
        return str(error)
    return problem or "nothing of it is left in the limb"


def _judge_series(problems: tuple[LocalProblem | str, ...]) -> dict[str, Any]:
    """Judge one shape under every load; a plate's stiffness goes with what the load crushes."""
    results: list[dict[str, Any]] = []
    for problem in problems:
        stages: StageCache = {}
        if isinstance(problem, str):
            results.append({"failed": problem})
            continue
        outcome = judge_zone(problem, np.random.default_rng(SEED), stages)
        results.append(verdict_numbers(outcome))
    return {"loads": results}


def _label(shape: Mapping[str, float]) -> str:
    return ", ".join(f"{name} {1e3 * value:.9g} mm" for name, value in shape.items()) or "as it is"


def _outcome(result: dict[str, Any] | TaskFailure, k: int) -> dict[str, Any]:
    if isinstance(result, TaskFailure):
        return {"failed": result.message}
    one: dict[str, Any] = result["loads"][k]
    return one


def _points(
    axes: tuple[Axis, ...],
    shape_axes: tuple[Axis, ...],
    lengths: tuple[float, ...],
    judged: Mapping[tuple[float, ...], Mapping[str, Any]],
) -> tuple[SweepPoint, ...]:
    points = []
    for values in itertools.product(*(axis.values for axis in axes)):
        place = dict(zip((axis.name for axis in axes), values, strict=True))
        key = (*(place[axis.name] for axis in shape_axes), place.get(DRAW, lengths[0]))
        result = judged[key]
        failure = str(result.get("failed", ""))
        points.append(
            SweepPoint(values=values, result=None if failure else result, failure=failure)
        )
    if all(point.result is None for point in points):
        raise LimbfeError(f"sweep: no point could be judged; the first: {points[0].failure}")
    return tuple(points)
