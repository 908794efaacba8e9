"""A sweep as a table on the terminal, as CSV and as what its picture shows."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.analysis.store import whole_file
from limbfe.report.tables import CRUSHED, FIRST, VERDICT_STYLE
from limbfe.studies.sweep import Sweep, SweepPoint
from limbfe.units import UnitSystem
from limbfe.view.sweep import SweepLine, SweepPicture

INCH = 0.0254
NUMBERS = (
    "verdict",
    "mode",
    "strength_used",
    "strength_used_low",
    "strength_used_high",
    "breaking",
    "breaking_low",
    "breaking_high",
    "crushing",
    "strength_ratio",
    "failure_probability",
)


def sweep_tables(sweep: Sweep, units: UnitSystem) -> RenderableType:
    """Return every point with its band and verdict; two axes also as a grid."""
    where = f"{units.length(sweep.at)} up the {sweep.limb} limb"
    title = f"{sweep.title}: {sweep.kind} {sweep.name}, {where}"
    parts: list[RenderableType] = [Text(title, style="bold")]
    if len(sweep.axes) == 2:
        down, across = (axis.name for axis in sweep.axes)
        parts.append(Text(f"Strength used to break: {down} down, {across} to the right"))
        parts.append(_grid(sweep, units))
    parts.append(_list(sweep, units))
    return Group(*parts)


def _list(sweep: Sweep, units: UnitSystem) -> Table:
    table = Table(title="Strength used to break (100% = expected)", title_justify="left")
    for axis in sweep.axes:
        table.add_column(axis.name, justify="right")
    for heading in ("low", "typical", "high", "chance", "to crush"):
        table.add_column(heading, justify="right")
    for heading in (FIRST, "verdict"):
        table.add_column(heading, no_wrap=True)
    for point in sweep.points:
        place = [_size(value, units) for value in point.values]
        if point.result is None:
            table.add_row(*place, *"-----", "", Text(f"not judged: {point.failure}"))
            continue
        one = point.result
        table.add_row(
            *place,
            *(f"{one[key]:.0%}" for key in ("breaking_low", "breaking", "breaking_high")),
            f"{one['failure_probability']:.0%}",
            f"{one['crushing']:.0%}",
            one["mode"],
            Text(one["verdict"], style=VERDICT_STYLE[one["verdict"]]),
        )
    table.caption = f"to crush: {CRUSHED}"
    return table


def _grid(sweep: Sweep, units: UnitSystem) -> Table:
    down, across = sweep.axes
    table = Table()
    table.add_column(down.name, justify="right")
    for value in across.values:
        table.add_column(_size(value, units), justify="right")
    points = iter(sweep.points)
    for value in down.values:
        table.add_row(_size(value, units), *(_cell(next(points)) for _ in across.values))
    return table


def _size(value: float, units: UnitSystem) -> str:
    """Return a size or place; in inches to a thousandth, so that an eighth is an eighth."""
    fine = units.name == "imperial" and abs(value) < INCH
    return units.fine_length(value) if fine else units.length(value)


def _cell(point: SweepPoint) -> Text:
    if point.result is None:
        return Text("-")
    style = VERDICT_STYLE[point.result["verdict"]]
    return Text(f"{point.result['breaking']:.0%}", style=style)


def write_csv(sweep: Sweep, path: Path) -> Path:
    """Write one line a point, units in the headings; return the path."""
    text = io.StringIO()
    lines = csv.writer(text, lineterminator="\n")
    lines.writerow([*(f"{axis.name}_mm" for axis in sweep.axes), *NUMBERS, "not_judged"])
    for point in sweep.points:
        found = point.result or {}
        place = [f"{1e3 * value:.9g}" for value in point.values]
        lines.writerow([*place, *(found.get(key, "") for key in NUMBERS), point.failure])
    with whole_file(path) as partial:
        partial.write_text(text.getvalue(), encoding="utf-8")
    return path


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
    breaks = bool(np.nanmax(sweep.column("breaking")) >= HARDLY_BREAKS)
    keys = ("breaking", "breaking_low", "breaking_high") if breaks else ("crushing",) * 3
    typical, low, high = (sweep.column(key).reshape(shape) for key in keys)
    crushing = sweep.column("crushing").reshape(shape)
    verdicts = np.array(["" if p.result is None else p.result["verdict"] for p in sweep.points])
    values: tuple[float | None, ...] = second[0].values if second else (None,)
    return SweepPicture(
        title=f"{sweep.kind.capitalize()} {sweep.name} of the {sweep.limb} limb",
        measure="to break" if breaks else "to crush it",
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
