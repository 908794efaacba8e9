"""Columns of a limb that stand in a CSV file beside the case."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

from limbfe.case.document import decode, read_bytes
from limbfe.case.messages import CaseText, Problem, nearest, show
from limbfe.errors import CaseError
from limbfe.units import UnitError, parse_number

COLUMNS = (
    "station",
    "width",
    "thickness",
    "sapwood",
    "lean",
    "backing",
    "reflex",
    "sideways",
)
_LIMBS = ("both", "upper", "lower")


def fill_columns(document: dict[str, Any], path: Path) -> tuple[CaseText, bytes]:
    """Return the document with every limb's CSV columns in its table, and the CSV files' bytes.

    Parameters
    ----------
    document : dict
        The case as TOML gave it; left as it is.
    path : Path
        The case file.  A table must lie in the same folder.

    Raises
    ------
    CaseError
        If a table lies elsewhere, or cannot be read as columns of numbers.
    """
    limbs = document.get("limb")
    text = CaseText(file=str(path), raw=document)
    if not isinstance(limbs, dict):
        return text, b""
    filled = dict(limbs)
    columns_from: dict[tuple[str, str], tuple[str, tuple[int, ...]]] = {}
    read = b""
    for side in _LIMBS:
        table = limbs.get(side)
        if not (isinstance(table, dict) and isinstance(table.get("table"), str)):
            continue
        loc = ("limb", side, "table")
        place = _beside(table["table"], path, text, loc)
        content = read_bytes(place, str(place))
        read += content
        columns, lines = _read_columns(decode(content, str(place)), str(place))
        for name in columns:
            if name in table:
                raise text.refusal(
                    Problem(loc, f'holds a column "{name}" that the case gives too; keep one')
                )
            columns_from[side, name] = (table["table"], lines)
        filled[side] = {**table, **columns}
    raw = {**document, "limb": filled}
    return CaseText(file=str(path), raw=raw, columns_from=columns_from), read


def _beside(name: str, path: Path, text: CaseText, loc: tuple[str, ...]) -> Path:
    """Return the path of a table, refusing any that does not lie in the case's own folder."""
    if not name.strip() or not name.isprintable() or Path(name).name != name or "\\" in name:
        raise text.refusal(
            Problem(loc, "must be the bare name of a CSV file in the case's own folder")
        )
    folder = path.parent
    place = folder / name
    try:
        inside = place.resolve().parent == folder.resolve()
    except (OSError, RuntimeError, ValueError):
        inside = False
    if not inside:
        raise text.refusal(
            Problem(loc, "leads out of the case's own folder; put the table itself there")
        )
    if not place.is_file():
        close = nearest(name, [p.name for p in folder.glob("*.csv")])
        hint = f'; did you mean "{close}"?' if close else "; put it there or correct the name"
        raise text.refusal(Problem(loc, f"no such file beside the case{hint}"))
    return place


def _read_columns(text: str, file: str) -> tuple[dict[str, list[float]], tuple[int, ...]]:
    """Return the columns by name and the line each row stands on."""
    reader = csv.reader(text.splitlines(), skipinitialspace=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for row in reader:
            if any(cell.strip() for cell in row) and not row[0].lstrip().startswith("#"):
                rows.append((reader.line_num, [cell.strip() for cell in row]))
    except csv.Error as error:
        raise CaseError(f"{file}: line {reader.line_num}: not readable as CSV: {error}") from None
    if len(rows) < 2:
        raise CaseError(f"{file}: must hold a line of column names and one line for each station")
    line, names = rows[0]
    _check_names(names, f"{file}: line {line}")
    columns: dict[str, list[float]] = {name: [] for name in names}
    for line, cells in rows[1:]:
        if len(cells) != len(names):
            raise CaseError(
                f"{file}: line {line}: has {len(cells)} values for {len(names)} columns; give one "
                "value for each, separated by commas"
            )
        for name, cell in zip(names, cells, strict=True):
            columns[name].append(_number(cell, f"{file}: line {line}: {name}"))
    return columns, tuple(line for line, _ in rows[1:])


def _check_names(names: list[str], where: str) -> None:
    for name in names:
        if name in COLUMNS:
            continue
        if any(sign in name for sign in ";\t"):
            raise CaseError(f"{where}: {show(name)}: columns must be separated by commas")
        close = nearest(name, COLUMNS)
        hint = f'did you mean "{close}"?' if close else f"use {', '.join(COLUMNS)}"
        raise CaseError(f"{where}: {show(name)}: unknown column; {hint}")
    for name in names:
        if names.count(name) > 1:
            raise CaseError(f"{where}: {show(name)}: stands twice; keep one column of that name")


def _number(cell: str, where: str) -> float:
    try:
        return parse_number(cell[:100])
    except UnitError:
        raise CaseError(
            f"{where} = {show(cell)}: must be a bare number, such as 36.5 or 36 1/2; its unit is "
            "the limb's unit"
        ) from None
