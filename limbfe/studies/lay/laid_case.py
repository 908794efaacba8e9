"""A layout as a case file that can be assessed, in the words of the sheet."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import tomlkit

from limbfe.case.document import decode, parse_document, read_bytes
from limbfe.case.schema import Case
from limbfe.case.sheet_schema import Sheet
from limbfe.frames import Array
from limbfe.log.fate import KnotFate
from limbfe.log.laid import LaidLimb
from limbfe.studies.lay.patches import LaidPatch
from limbfe.units import unit_factor

DECIMALS = {"mm": 2, "in": 4, "cm": 3, "m": 5, "ft": 5}
FLATTEST_RINGS = 10.0
"""Largest ring radius (m) that a case holds."""


def laid_document(
    sheet: Sheet,
    bow: Case,
    laid: LaidLimb,
    knots: Iterable[KnotFate],
    patches: Iterable[LaidPatch],
    heading: Sequence[str],
) -> str:
    """Return the text of a complete case.

    Parameters
    ----------
    sheet : Sheet
    bow : Case
        The wanted bow, sized.
    laid : LaidLimb
    knots : iterable of KnotFate
        Those whose words are None are left out.
    patches : iterable of LaidPatch
    heading : sequence of str
        Lines of comment put on top.
    """
    sheet_raw = _raw(sheet.path)
    bow_raw = _raw(bow.path) if sheet.file.bow.case is not None else sheet_raw
    document = tomlkit.document()
    for line in heading:
        document.add(tomlkit.comment(line))
    document.add("title", f"{sheet.title}, laid out"[:200])
    question = sheet.file.question or bow.file.question
    if question:
        document.add("question", question)
    document.add("wood", sheet_raw.get("wood") or bow_raw["wood"])
    section = dict(bow_raw["section"])
    if laid.round_back:
        section["back"] = "crowned"
    document.add("section", section)
    unit = sheet_raw["stave"].get("unit") or "mm"
    limbs = tomlkit.table(is_super_table=True)
    for side in ("upper", "lower"):
        limbs.append(side, _limb(laid, bow, side, unit))
    document.add("limb", limbs)
    for name in ("grip", "string", "draw", "analysis"):
        if name in bow_raw:
            document.add(name, bow_raw[name])
    raw_knots = {one["name"]: one for one in sheet_raw.get("knot", ())}
    _tables(document, "knot", (_knot(one, raw_knots, unit) for one in knots if one.words))
    raw_patches = {one["name"]: one for one in sheet_raw.get("decay", ())}
    _tables(document, "decay", (_patch(one, raw_patches, unit) for one in patches))
    return tomlkit.dumps(document)


def _raw(path: Any) -> dict[str, Any]:
    return parse_document(decode(read_bytes(path, str(path)), str(path)), str(path))


def _tables(document: tomlkit.TOMLDocument, name: str, rows: Iterable[dict[str, Any]]) -> None:
    tables = tomlkit.aot()
    for row in rows:
        table = tomlkit.table()
        for key, value in row.items():
            table.add(key, value)
        tables.append(table)
    if len(tables):
        document.add(name, tables)


def _limb(laid: LaidLimb, bow: Case, side: str, unit: str) -> Any:
    """Return one limb's table, from the grip to its nock."""
    here = laid.s >= 0.0 if side == "upper" else laid.s <= 0.0
    order = slice(None) if side == "upper" else slice(None, None, -1)

    def pick(values: Array) -> Array:
        return values[here][order]

    table = tomlkit.table()
    table.add("unit", unit)
    lengths = {
        "station": np.abs(laid.s),
        "width": laid.width,
        "thickness": laid.thickness,
        "sapwood": laid.sapwood,
        "backing": laid.backing,
        "crown": np.minimum(laid.crown, FLATTEST_RINGS) if laid.round_back else laid.crown,
        "reflex": laid.reflex,
        "sideways": laid.sideways,
        "ring_radius": np.minimum(laid.ring_radius, FLATTEST_RINGS),
    }
    crowned = laid.round_back or bow.file.section.back == "crowned"
    for name, values in lengths.items():
        needed = name in ("station", "width", "thickness")
        wanted = {
            "ring_radius": bool(np.isfinite(laid.ring_radius[0])),
            "crown": crowned,
        }.get(name, needed or bool(np.any(np.abs(values) > 5e-6)))
        if wanted:
            table.add(name, _array([written_length(v, unit) for v in pick(values)]))
    angles = {
        "twist": laid.twist,
        "run_out": laid.run_out,
        "sideways_grain": laid.sideways_slope,
        "spiral": np.full(laid.s.shape, laid.spiral),
    }
    for name, values in angles.items():
        if np.any(np.abs(values) > 1e-6):
            table.add(name, _array([_plain(round(math.degrees(v), 3)) for v in pick(values)]))
    return table


def _array(values: list[float | int | str]) -> Any:
    array = tomlkit.array()
    array.extend(values)
    return array


def written_length(value: float, unit: str) -> float | int | str:
    """Return a length as it stands in a column of a unit."""
    if math.isinf(value):
        return "flat"
    return _plain(round(float(value) / unit_factor(unit, "length"), DECIMALS[unit]))


def _plain(value: float) -> float | int:
    value = float(value) + 0.0
    return int(value) if value == int(value) else value


def _quantity(value: float, unit: str) -> str:
    return f"{written_length(value, unit)} {unit}"


def _knot(fate: KnotFate, raw: dict[str, Any], unit: str) -> dict[str, Any]:
    words = fate.words
    assert words is not None
    row: dict[str, Any] = {
        "name": words.name,
        "limb": "upper" if words.s >= 0.0 else "lower",
        "at": _quantity(abs(words.s), unit),
        "face": words.face,
        "across": _quantity(words.across, unit),
        "diameter": _quantity(words.diameter, unit),
        "state": words.mark.state,
    }
    if words.far_diameter is not None:
        row["far_diameter"] = _quantity(words.far_diameter, unit)
    if abs(words.lean) > 1e-6:
        row["lean"] = f"{_plain(round(math.degrees(words.lean), 2))} deg"
    if words.mark.filler is not None:
        row["filler"] = raw[words.name]["filler"]
    return row


def _patch(patch: LaidPatch, raw: dict[str, Any], unit: str) -> dict[str, Any]:
    row: dict[str, Any] = {
        "name": patch.name,
        "limb": "upper" if patch.s >= 0.0 else "lower",
        "at": _quantity(abs(patch.s), unit),
        "face": patch.face,
        "across": _quantity(patch.across, unit),
        "length": _quantity(patch.length, unit),
        "width": _quantity(patch.width, unit),
        "depth": _quantity(patch.depth, unit),
    }
    for key in ("stage", "rot", "multipliers"):
        if key in raw[patch.name]:
            row[key] = raw[patch.name][key]
    return row
