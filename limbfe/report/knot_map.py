"""The largest knots that a bow bears, station by station."""

from __future__ import annotations

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.log.layout.allowed import AllowedKnots
from limbfe.report.tables import add_number, plain_table
from limbfe.studies.trial_knots.map import ASSUMED, MappedKnots
from limbfe.units import UnitSystem

EVERY = 0.1
"""Stations (m) of the table, as shares of the longer limb."""
TO_EDGE = 0.8
"""Place of the second column: of half the width."""


def map_tables(found: MappedKnots, units: UnitSystem) -> RenderableType:
    """Return a table for the back and one for the belly, and what they mean."""
    unit = "32nds of an inch" if units.name == "imperial" else "mm"
    lines = [
        f"Largest knot at a draw of {units.length(found.draw_length)}, {unit} across the grain. "
        "First what stays sound, then what does not break; in the middle of the face and at "
        f"{TO_EDGE:.0%} of the way to its edge. 0: none; +: larger ones were not looked at.",
        *(f"- {line}" for line in (*ASSUMED, *found.notes)),
    ]
    return Group(
        Text(found.title, style="bold"),
        Text(""),
        _table(found, "back", units),
        Text(""),
        _table(found, "belly", units),
        Text(""),
        *(Text(line) for line in lines),
    )


def _table(found: MappedKnots, face: str, units: UnitSystem) -> Table:
    known = found.map
    scale, _ = units.scale("length")
    table = plain_table(f"On the {face}: sound / unbroken")
    add_number(table, "station", "width")
    for state in known.states:
        add_number(table, f"{state} middle", "edge")
    far = float(np.abs(known.s).max())
    steps = EVERY * far * np.arange(-10, 11)
    for s in steps[::-1]:
        k = int(np.argmin(np.abs(known.s - s)))
        if np.isnan(known.allowed[known.states[0], face].sound[k, 0]):
            continue
        side = "up" if known.s[k] > 0.0 else "low"
        cells = [f"{abs(known.s[k]) / scale:.{units_digits(units)}f} {side}"]
        cells.append(f"{known.width[k] / scale:.{units_digits(units) + 1}f}")
        for state in known.states:
            one = known.allowed[state, face]
            cells += [_pair(found, one, k, place, units) for place in (0.0, TO_EDGE)]
        table.add_row(*cells)
    return table


def units_digits(units: UnitSystem) -> int:
    """Return the digits of a station: millimetres whole, inches with one."""
    return 1 if units.name == "imperial" else 0


def _pair(found: MappedKnots, one: AllowedKnots, k: int, place: float, units: UnitSystem) -> str:
    """Return the smaller figure of both sides, sound and unbroken."""
    return "/".join(
        min(
            (_size(found, values[k], one.most[k], sign * place, units) for sign in (-1.0, 1.0)),
            key=lambda pair: pair[0],
        )[1]
        for values in (one.sound, one.unbroken)
    )


def _size(
    found: MappedKnots, values: np.ndarray, most: np.ndarray, place: float, units: UnitSystem
) -> tuple[float, str]:
    scale, _ = units.scale("length")
    size, limit = (float(np.interp(place, found.map.share, v)) for v in (values, most))
    # rounded down: a bowyer reads it as what may be
    if units.name == "imperial":
        text = f"{np.floor(32.0 * size / scale + 1e-9):.0f}"
    else:
        text = f"{np.floor(size / scale + 1e-9):.0f}"
    return size, text + ("+" if size > 0.999 * limit else "")
