"""The stations of a case that may still be half typed: whatever of them can be read."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from limbfe.frames import Array
from limbfe.stave.columns import FLAT, NAMED, Column
from limbfe.units import Kind, UnitError, is_number, parse_quantity

NEEDED = ("station", "width", "thickness")
LARGEST = 10.0
"""m; a length beyond it is a slip and is not drawn."""
Side = Literal["both", "upper", "lower"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """What is known of a bow station by station, lower tip to upper tip.

    Attributes
    ----------
    x : ndarray, shape (n,), m
        Growing; negative on the lower limb.
    columns : mapping of str to ndarray, shape (n,), m or rad
        Width and thickness at every station; the others filled in between those that are known.
    place : tuple of (str, int), n of them
        Heading of the limb's table in the case, and row.
    """

    x: Array
    columns: Mapping[str, Array]
    place: tuple[tuple[str, int], ...]


def quantity_or_none(value: Any, kind: Kind, unit: Any = None) -> float | None:
    """Return a value of a case in SI; None where it cannot be read.

    Examples
    --------
    >>> quantity_or_none("2", "length", "in"), quantity_or_none("1 1", "length", "in")
    (0.0508, None)
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return None
    text = str(value)
    if is_number(text):
        text = f"{text} {unit}" if unit else text
    try:
        found = parse_quantity(text, kind)
    except UnitError:
        return None
    too_long = kind == "length" and abs(found) > LARGEST
    return None if too_long or not math.isfinite(found) else found


def read_rows(limbs: Any) -> Rows | None:
    """Return what can be read of the tables ``[limb.*]``; None where no limb can be drawn.

    Parameters
    ----------
    limbs : mapping or other
        As TOML gave it, with the columns of CSV tables filled in.
    """
    if not isinstance(limbs, Mapping):
        return None
    found: dict[float, tuple[dict[str, float | None], tuple[str, int]]] = {}
    for sign, limb in ((-1.0, "lower"), (1.0, "upper")):
        side = limb if isinstance(limbs.get(limb), Mapping) else "both"
        for at, values, row in _limb(limbs.get(side)):
            found.setdefault(sign * at, (values, (side, row)))
    if len(found) < 2:
        return None
    x = np.array(sorted(found))
    names = [name for name in NAMED if name != "station"]
    columns = {}
    for name in names:
        known = [(at, found[at][0].get(name)) for at in x]
        there = [(at, value) for at, value in known if value is not None]
        if there:
            columns[name] = _between(x, there, NAMED[name])
    return Rows(x=x, columns=columns, place=tuple(found[at][1] for at in x))


def _limb(table: Any) -> list[tuple[float, dict[str, float | None], int]]:
    """Return station, values and row of every station that has a width and a thickness."""
    if not isinstance(table, Mapping) or not isinstance(table.get("station"), list):
        return []
    unit, rows = table.get("unit"), []
    highest = -1.0
    for k in range(len(table["station"])):
        values: dict[str, float | None] = {}
        for name, column in NAMED.items():
            cells = table.get(name)
            cell = cells[k] if isinstance(cells, list) and k < len(cells) else None
            values[name] = _cell(cell, column, unit)
        at, width, thickness = (values[name] for name in NEEDED)
        if at is None or not width or not thickness or width <= 0.0 or thickness <= 0.0:
            continue
        if at > highest:  # a station out of order would fold the limb over
            highest = at
            rows.append((at, values, k))
    return rows if highest >= 0.0 else []


def _cell(cell: Any, column: Column, unit: Any) -> float | None:
    if column.flat and cell == FLAT:
        return math.inf
    return quantity_or_none(cell, column.kind, "deg" if column.kind == "angle" else unit)


def _between(x: Array, known: list[tuple[Any, float]], column: Column) -> Array:
    at = np.array([place for place, _ in known])
    values = np.array([value for _, value in known], dtype=np.float64)
    if column.flat:  # of a radius that may be infinite the curvature goes between stations
        with np.errstate(divide="ignore"):
            curved = np.interp(x, at, 1.0 / values)
            return np.asarray(1.0 / curved, dtype=np.float64)
    return np.interp(x, at, values)
