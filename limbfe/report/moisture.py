"""A bow over a range of moisture, on the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Group, RenderableType
from rich.text import Text

from limbfe.report import csv_file
from limbfe.report.tables import PRESSED, add_number, plain_table
from limbfe.studies.sweep.moisture import MoisturePoint, MoistureSweep
from limbfe.units import UnitSystem
from limbfe.view.study.moisture import MoisturePicture

COLUMNS = {
    "draw_weight": "draw_weight_N",
    "set_upper": "set_upper_m",
    "set_lower": "set_lower_m",
    "tension": "tension_used",
    "compression": "compression_used",
    "breaking_draw": "breaking_draw_m",
    "mode": "breaking_mode",
}


BREAKS = {
    "tension": "breaks in tension",
    "shear": "shears along the grain",
    "across": "splits across the grain",
    "crush": "belly gives way",
}


def moisture_table(sweep: MoistureSweep, units: UnitSystem) -> RenderableType:
    """Return one line for every moisture, and what did not follow it."""
    table = plain_table(f"{sweep.title}: moisture of the wood")
    unit = units.scale("length")[1]
    sets = (f"set, upper, {unit}", f"set, lower, {unit}")
    for heading in ("moisture", "draw weight", *sets, "tension used", "compression used"):
        add_number(table, heading)
    add_number(table, f"breaks at, {unit}")
    table.add_column("how")
    for point in sweep.points:
        moisture, one = f"{100.0 * point.moisture:.3g} %", point.figures
        if point.failure:
            table.add_row(moisture, *[""] * 6, f"not drawn: {point.failure}")
            continue
        breaking = one["breaking_draw"]
        table.add_row(
            moisture,
            units.force(one["draw_weight"]),
            units.number("rough length", one["set_upper"]),
            units.number("rough length", one["set_lower"]),
            f"{one['tension']:.0%}",
            f"{one['compression']:.0%}",
            "-" if breaking is None else units.number("draw reach", breaking),
            BREAKS.get(one["mode"], "-"),
        )
    if sweep.own is not None:
        table.caption = (
            f"the case's own moisture is {100.0 * sweep.own:.3g} %; strength at full draw; "
            f"in compression: {PRESSED}"
        )
    return Group(
        *(
            Text(f"At {100.0 * point.moisture:.3g} %: {words}.", style="bold red")
            for point in sweep.points
            for words in point.figures.get("when_braced", ())
        ),
        table,
        Text("Not moved with the moisture:"),
        *(Text(f"- {f}") for f in sweep.fixed),
    )


def moisture_picture(sweep: MoistureSweep, draw_length: float) -> MoisturePicture:
    """Return what the picture shows; `draw_length` (m) is the case's."""
    return MoisturePicture(
        title=sweep.title,
        moisture=np.array([100.0 * point.moisture for point in sweep.points]),
        own=None if sweep.own is None else 100.0 * sweep.own,
        draw_length=draw_length,
        **{
            key: sweep.column(key)
            for key in (
                "draw_weight", "set_upper", "set_lower", "tension", "compression", "breaking_draw"
            )
        },
    )  # fmt: skip


def write_moisture_csv(sweep: MoistureSweep, path: Path) -> Path:
    """Write one line a moisture, units in the headings; return the path."""

    def line(point: MoisturePoint) -> list[Any]:
        figures = ["" if (v := point.figures.get(key)) is None else v for key in COLUMNS]
        return [f"{100.0 * point.moisture:.9g}", *figures, point.failure]

    headings = ["moisture_percent", *COLUMNS.values(), "not_drawn"]
    return csv_file.write_csv(path, headings, map(line, sweep.points))
