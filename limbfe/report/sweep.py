"""A sweep as a table on the terminal, as CSV and as what its picture shows."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.report import csv_file
from limbfe.report.tables import (
    FIRST,
    VERDICT_STYLE,
    WRINKLED,
    add_number,
    first_words,
    plain_table,
)
from limbfe.studies.sweep.zone import Sweep, SweepPoint
from limbfe.units import UnitSystem
from limbfe.view.study.sweep import SweepLine, SweepPicture

NUMBERS = (
    "verdict",
    "mode",
    "strength_used",
    "strength_used_low",
    "strength_used_high",
    "wrinkling_used",
    "strength_ratio",
    "failure_probability",
)


def sweep_tables(sweep: Sweep, units: UnitSystem) -> RenderableType:
    """Return every point with its band and verdict; two axes also as a grid."""
    where = f"{units.length(sweep.at)} up the {sweep.limb} limb"
    title = f"{sweep.title}: {sweep.kind} {sweep.name}, {where}"
    parts: list[RenderableType] = [
        *first_words(sweep.when_braced, units),
        Text(title, style="bold"),
    ]
    if len(sweep.axes) == 2:
        down, across = (axis.name for axis in sweep.axes)
        parts.append(Text(f"Strength used to break: {down} down, {across} to the right"))
        parts.append(_grid(sweep, units))
    parts.append(_list(sweep, units))
    return Group(*parts)


def _list(sweep: Sweep, units: UnitSystem) -> Table:
    table = plain_table("Strength used to break (100% = expected)")
    for axis in sweep.axes:
        add_number(table, axis.name)
    for heading in ("low", "typical", "high", "chance", "to wrinkle"):
        add_number(table, heading)
    for heading in (FIRST, "verdict"):
        table.add_column(heading)
    for point in sweep.points:
        place = [units.length(value) for value in point.values]
        if point.result is None:
            table.add_row(*place, *"-----", "", Text(f"not judged: {point.failure}"))
            continue
        one = point.result
        table.add_row(
            *place,
            *(
                f"{one[key]:.0%}"
                for key in ("strength_used_low", "strength_used", "strength_used_high")
            ),
            f"{one['failure_probability']:.0%}",
            f"{one['wrinkling_used']:.0%}",
            one["mode"],
            Text(one["verdict"], style=VERDICT_STYLE[one["verdict"]]),
        )
    table.caption = f"to wrinkle: {WRINKLED}"
    return table


def _grid(sweep: Sweep, units: UnitSystem) -> Table:
    down, across = sweep.axes
    table = plain_table("")
    add_number(table, down.name)
    for value in across.values:
        add_number(table, units.length(value))
    points = iter(sweep.points)
    for value in down.values:
        table.add_row(units.length(value), *(_cell(next(points)) for _ in across.values))
    return table


def _cell(point: SweepPoint) -> Text:
    if point.result is None:
        return Text("-")
    style = VERDICT_STYLE[point.result["verdict"]]
    return Text(f"{point.result['strength_used']:.0%}", style=style)


def write_csv(sweep: Sweep, path: Path) -> Path:
    """Write one line a point, units in the headings; return the path."""

    def line(point: SweepPoint) -> list[Any]:
        found = point.result or {}
        place = [f"{1e3 * value:.9g}" for value in point.values]
        return [*place, *(found.get(key, "") for key in NUMBERS), point.failure]

    headings = [*(f"{axis.name}_mm" for axis in sweep.axes), *NUMBERS, "not_judged"]
    return csv_file.write_csv(path, headings, map(line, sweep.points))


AXIS_WORDS = {
    "diameter": "knot's diameter",
    "length": "length of the decay",
    "width": "width of the decay",
    "depth": "depth of the decay",
    "across": "place across the limb (to the archer's right)",
    "draw": "draw length",
}


HARDLY_BREAKS = 0.2
"""Strength used of breaking below which a zone's crushing is what its picture shows."""


def sweep_picture(sweep: Sweep) -> SweepPicture:
    """Return what the picture of a sweep shows: along the first axis, one line a second value."""
    first, *second = sweep.axes
    shape = (len(first.values), -1)
    breaks = bool(np.nanmax(sweep.column("strength_used")) >= HARDLY_BREAKS)
    keys = (
        ("strength_used", "strength_used_low", "strength_used_high")
        if breaks
        else ("wrinkling_used",) * 3
    )
    typical, low, high = (sweep.column(key).reshape(shape) for key in keys)
    crushing = sweep.column("wrinkling_used").reshape(shape)
    verdicts = np.array(["" if p.result is None else p.result["verdict"] for p in sweep.points])
    values: tuple[float | None, ...] = second[0].values if second else (None,)
    return SweepPicture(
        title=f"{sweep.kind.capitalize()} {sweep.name} of the {sweep.limb} limb",
        measure="to break" if breaks else "to wrinkle its belly",
        along=AXIS_WORDS[first.name],
        x=np.array(first.values),
        own=sweep.own[0],
        family=second[0].name if second else "",
        lines=tuple(
            SweepLine(
                value=value,
                typical=typical[:, k],
                low=low[:, k],
                high=high[:, k],
                crushing=crushing[:, k] if breaks else None,
                verdicts=tuple(verdicts.reshape(shape)[:, k].tolist()),
            )
            for k, value in enumerate(values)
        ),
    )
