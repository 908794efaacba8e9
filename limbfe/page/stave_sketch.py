"""The stave drawn from what can be read of its sheet: its back, its depth, and one section."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from limbfe.case.sheet_build import build_log
from limbfe.case.sheet_schema import Sheet
from limbfe.curves import natural_spline
from limbfe.frames import Array
from limbfe.log.bench import stave_outline
from limbfe.log.log import Log
from limbfe.page.columns import quantity_or_none
from limbfe.units import IMPERIAL, METRIC

POINTS = 90
"""Places along the stave at which it is drawn, beside its stations."""
NEEDED = ("left", "right", "depth")
DRAWN = (*NEEDED, "rise", "sapwood")
FACES = ("back", "left", "right", "belly")
_ZONE = ("at", "across", "diameter", "length", "width", "depth")
_CHECK = ("from", "to", "across", "across_to", "depth")


def draw_stave(raw: Mapping[str, Any], sheet: Sheet | None, at: float | None) -> dict[str, Any]:
    """Return the drawing in mm, ready to be laid out.

    Parameters
    ----------
    raw : mapping
        The sheet as TOML gave it, CSV columns filled in, however wrong.
    sheet : Sheet or None
        The same, where it was found sound.
    at : float or None, m
        Station of the section; the middle of the stave when left out.

    Returns
    -------
    dict
        ``"bow"``: `x` from the butt, `left`, `right`, `depth`, `rise`, `sapwood` along it, and
        the `stations` with their row; None where there is nothing to draw.
        ``"zones"`` on their faces; ``"checks"``; ``"points"`` through which the line goes and the
        ``"batten"`` bent through them; ``"section"`` with its `outline`, (right, up), and `words`.
    """
    found = _columns(raw.get("stave"))
    log = None if sheet is None else build_log(sheet.file)
    if found is None:
        return {"bow": None, "zones": [], "checks": [], "points": [], "batten": None, **_NONE}
    station, columns, rows = found
    x = np.unique(np.concatenate([np.linspace(station[0], station[-1], POINTS), station]))
    drawn = {
        name: log.at(name, x) if log is not None else np.interp(x, station, columns[name])
        for name in DRAWN
    }
    points = _points(raw)
    return {
        "bow": {
            "x": _mm(x),
            **{name: _mm(values) for name, values in drawn.items()},
            "stations": [
                {"x": round(1e3 * float(s), 2), "row": row}
                for s, row in zip(station, rows, strict=True)
            ],
        },
        "zones": [zone for kind in ("knot", "decay") for zone in _zones(raw, kind)],
        "checks": _checks(raw),
        "points": points,
        "batten": _batten(points),
        "section": _section(station, columns, log, at),
    }


_NONE: dict[str, Any] = {"section": None}


def _mm(values: Array) -> list[float]:
    return [round(1e3 * float(value), 2) for value in values]


def _columns(table: Any) -> tuple[Array, dict[str, Array], list[int]] | None:
    """Return stations, columns at them, m, and their rows; None where nothing can be drawn."""
    if not isinstance(table, Mapping) or not isinstance(table.get("station"), list):
        return None
    unit, found = table.get("unit"), dict[float, tuple[dict[str, float], int]]()
    for k, cell in enumerate(table["station"]):
        at = quantity_or_none(cell, "length", unit)
        values = {}
        for name in DRAWN:
            cells = table.get(name)
            given = cells[k] if isinstance(cells, list) and k < len(cells) else None
            value = quantity_or_none(given, "length", unit)
            if value is not None:
                values[name] = value
        wide = values.get("left", 0.0) + values.get("right", 0.0)
        whole = set(NEEDED) <= set(values) and wide > 0.0 and values["depth"] > 0.0
        if at is not None and whole and at > max(found, default=-1.0):
            found[at] = values, k
    if len(found) < 2:
        return None
    columns = {
        name: np.array([values.get(name, 0.0) for values, _ in found.values()]) for name in DRAWN
    }
    return np.array(list(found)), columns, [row for _, row in found.values()]


def _lengths(table: Mapping[str, Any], names: tuple[str, ...]) -> dict[str, float]:
    """Return what of a table can be read, in mm."""
    unit = table.get("unit")
    read = {name: quantity_or_none(table.get(name), "length", unit) for name in names}
    return {name: round(1e3 * value, 2) for name, value in read.items() if value is not None}


def _tables(tables: Any) -> list[tuple[int, Mapping[str, Any]]]:
    given = tables if isinstance(tables, list) else ()
    return [(k, table) for k, table in enumerate(given) if isinstance(table, Mapping)]


def _zones(raw: Mapping[str, Any], kind: str) -> list[dict[str, Any]]:
    found = []
    for k, table in _tables(raw.get(kind)):
        sizes = _lengths(table, _ZONE)
        if not {"at", "across"} <= sizes.keys() or table.get("face") not in FACES:
            continue
        found.append(
            {
                "kind": kind,
                "row": k,
                "name": str(table.get("name", ""))[:60],
                "face": table["face"],
                "state": str(table.get("state", table.get("stage", "")))[:20],
                "x": sizes.pop("at"),
                **sizes,
            }
        )
    return found


def _checks(raw: Mapping[str, Any]) -> list[dict[str, Any]]:
    found = []
    for k, table in _tables(raw.get("check")):
        sizes = _lengths(table, _CHECK)
        if {"from", "to"} <= sizes.keys():
            across = sizes.get("across", 0.0)
            ends = {"across": across, "across_to": sizes.get("across_to", across)}
            found.append({"row": k, **sizes, **ends})
    return found


def _points(raw: Mapping[str, Any]) -> list[dict[str, Any]]:
    fix = raw.get("fix")
    through = fix.get("through") if isinstance(fix, Mapping) else None
    found = []
    for k, table in _tables(through):
        sizes = _lengths(table, ("at", "across"))
        if len(sizes) == 2:
            found.append({"row": k, "x": sizes["at"], "across": sizes["across"]})
    return found


def _batten(points: list[dict[str, Any]]) -> dict[str, list[float]] | None:
    """Return a thin batten bent through the points, in mm; None through less than two."""
    places = {point["x"]: point["across"] for point in points}
    if len(places) < 2:
        return None
    x = np.array(sorted(places))
    fine = np.linspace(x[0], x[-1], 61)
    line = natural_spline(x, np.array([places[at] for at in x]))(fine)
    return {
        "x": [round(float(at), 2) for at in fine],
        "across": [round(float(value), 2) for value in line],
    }


def _section(
    station: Array, columns: Mapping[str, Array], log: Log | None, at: float | None
) -> dict[str, Any]:
    middle = 0.5 * float(station[0] + station[-1])
    x = middle if at is None else float(np.clip(at, station[0], station[-1]))
    left, right, depth = (
        float(np.interp(x, station, columns[name]) if log is None else log.at(name, x))
        for name in NEEDED
    )
    if log is None:
        outline = np.array([[-left, 0.0], [right, 0.0], [right, -depth], [-left, -depth]])
    else:
        outline = stave_outline(log, x)
    return {
        "x": round(1e3 * x, 2),
        "outline": [[round(1e3 * float(y), 2), round(1e3 * float(z), 2)] for y, z in outline],
        "twist": 0.0,
        "zones": [],
        "words": f"{_both(x)} from the butt: {_both(left)} to the left of the line, "
        f"{_both(right)} to the right, {_both(depth)} deep",
    }


def _both(metres: float) -> str:
    """Return a length in mm and as a ruler in inches shows it."""
    return f"{METRIC.length(metres)} ({IMPERIAL.length(metres)})"
