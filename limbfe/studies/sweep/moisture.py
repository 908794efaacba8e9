"""One bow, drier and damper: what its wood's moisture does to weight, set and strength.

Figures from the table of woods follow the moisture.  What the case gives was measured on the wood
as it was, and stays; so do the stave's sizes, which really shrink and swell by a few per cent.
"""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.kept import kept_set
from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.wood.draw_limits import breaking_draw
from limbfe.analysis.wood.hot_spots import find_hot_spots
from limbfe.analysis.wood.limb_load import drawn_stress
from limbfe.analysis.wood.when_braced import when_braced
from limbfe.case.build import build_setup, given_properties
from limbfe.case.schema import Case
from limbfe.case.wood_tables import WoodTable
from limbfe.errors import CaseError, LimbfeError
from limbfe.frames import Array
from limbfe.rows import Row, flat_row
from limbfe.studies.tasks.run import TaskFailure, Tell, run_tasks
from limbfe.version import __version__

TABLES = ("whole", "heartwood", "sapwood", "backing")


@dataclass(frozen=True, slots=True, kw_only=True)
class MoisturePoint:
    """The bow at one moisture.

    Attributes
    ----------
    moisture : float
        Fraction.
    figures : mapping of str to float, text or None
        ``draw_weight`` (N), ``set_lower`` and ``set_upper`` (m), ``tension`` and ``compression``
        (strength used by clear wood at full draw), ``breaking_draw`` (m, None where the bow ends
        otherwise) and ``mode`` of that break, ``when_braced`` in words; empty where the bow could
        not be drawn.
    failure : str
        Why not.
    """

    moisture: float
    figures: Mapping[str, Any]
    failure: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MoistureSweep:
    """A bow over a range of moisture.

    Attributes
    ----------
    title : str
    own : float or None
        Moisture of the case's main wood, a fraction.
    points : tuple of MoisturePoint
    fixed : tuple of str
        What does not follow the moisture, one line a wood.
    """

    title: str
    own: float | None
    points: tuple[MoisturePoint, ...]
    fixed: tuple[str, ...]

    def column(self, key: str) -> Array:
        """Return one figure of every point, shape (n,); nan where there is none."""
        values = [point.figures.get(key) for point in self.points]
        return np.array([np.nan if value is None else value for value in values])

    def to_dict(self) -> dict[str, Any]:
        """Return everything, units in the keys."""
        return {
            "case": self.title,
            "version": __version__,
            "own_moisture_percent": None if self.own is None else 100.0 * self.own,
            "fixed": list(self.fixed),
            "points": [_told(point) for point in self.points],
        }

    def rows(self) -> list[Row]:
        """Return the bow at every moisture, a row each."""
        return [flat_row(_told(point)) for point in self.points]


def _told(point: MoisturePoint) -> dict[str, Any]:
    moisture = {"moisture_percent": 100.0 * point.moisture}
    if point.failure:
        return {**moisture, "not_drawn": point.failure}
    figures = point.figures
    breaking = figures["breaking_draw"]
    return {
        **moisture,
        "when_braced": figures["when_braced"],
        "draw_weight_N": figures["draw_weight"],
        "set_mm": {"upper": 1e3 * figures["set_upper"], "lower": 1e3 * figures["set_lower"]},
        "strength_used": {"tension": figures["tension"], "compression": figures["compression"]},
        "breaking_draw_length_mm": None if breaking is None else 1e3 * breaking,
        "breaking_mode": figures["mode"],
    }


def sweep_moisture(
    case: Case,
    moistures: tuple[float, ...],
    *,
    workers: int | None = None,
    executor: Executor | None = None,
    tell: Tell | None = None,
) -> MoistureSweep:
    """Draw the bow with all its woods at each of several moistures.

    Parameters
    ----------
    case : Case
    moistures : tuple of float
        Fractions.
    workers, executor
        See `limbfe.studies.tasks.run.run_tasks`.
    tell : callable, optional
        Told after every moisture how many of how many are done.

    Raises
    ------
    CaseError
        If no wood of the case comes from the table, or a moisture is beyond its adjustment.
    LimbfeError
        If the bow can be drawn at none of them.
    """
    tables = _tables(case)
    if all(table.species is None for table in tables.values()):
        raise CaseError(
            "--moisture: no wood of this case names a species; what a case gives was measured and "
            "does not follow the moisture"
        )
    for moisture in moistures:
        moist_setup(case, moisture)
    tasks = {f"{100.0 * m:.9g} %": (case, m) for m in moistures}
    found = run_tasks(
        _figures,
        tasks,
        study=f"moisture {case.digest}",
        workers=workers,
        executor=executor,
        tell=tell,
    )
    points = tuple(_point(m, one) for m, one in zip(moistures, found.values(), strict=True))
    if all(point.failure for point in points):
        raise LimbfeError(f"--moisture: the bow can be drawn at none: {points[0].failure}")
    main = next(iter(tables.values()))
    return MoistureSweep(
        title=case.title,
        own=None if main.moisture is None else main.moisture / 100.0,
        points=points,
        fixed=tuple(_fixed(tables)),
    )


def _tables(case: Case) -> dict[str, WoodTable]:
    return {name: table for name in TABLES if (table := getattr(case.file.wood, name)) is not None}


def moist_setup(case: Case, moisture: float) -> BowSetup:
    """Return a case's bow with all its woods at a moisture (fraction).

    Raises
    ------
    CaseError
        If it is beyond their adjustment.
    """
    changed = {
        name: table.model_copy(update={"moisture": 100.0 * moisture})
        for name, table in _tables(case).items()
    }
    wood = case.file.wood.model_copy(update=changed)
    return build_setup(replace(case, file=case.file.model_copy(update={"wood": wood})))


def _figures(item: tuple[Case, float]) -> dict[str, Any]:
    solved = exercised_bow(moist_setup(*item), beyond=False)
    inside, skin = drawn_stress(solved)
    spots = find_hot_spots(solved.model.stations, skin, inside)
    used = {
        mode: max((spot.strength_used for spot in spots if spot.mode == mode), default=0.0)
        for mode in ("tension", "compression")
    }
    lower, upper = kept_set(solved, bounds=False).rested
    breaks = breaking_draw(solved).breaks
    return {
        "when_braced": [str(one) for one in when_braced(solved)],
        "draw_weight": solved.full_draw.draw_force,
        "set_lower": float(lower),
        "set_upper": float(upper),
        **used,
        "breaking_draw": None if breaks is None else breaks.draw_length,
        "mode": None if breaks is None else breaks.kind,
    }


def _point(moisture: float, result: dict[str, Any] | TaskFailure) -> MoisturePoint:
    if isinstance(result, TaskFailure):
        return MoisturePoint(moisture=moisture, figures={}, failure=result.message)
    return MoisturePoint(moisture=moisture, figures=result, failure="")


def _fixed(tables: Mapping[str, WoodTable]) -> list[str]:
    lines = []
    for name, table in tables.items():
        given = ", ".join(given_properties(table))
        if table.species is None:
            lines.append(f"{name}: every property is given and stays")
        elif given:
            lines.append(f"{name}: {given}: given in the case, measured at its moisture, and stays")
    lines.append("sizes: shrinking and swelling of the stave are left out")
    return lines
