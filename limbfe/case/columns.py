"""Columns of a limb that stand in a CSV file beside the case."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from limbfe.case.document import decode, read_bytes
from limbfe.case.messages import CaseText, Problem, nearest
from limbfe.case.spreadsheet import Row, Spreadsheet, read_spreadsheet
from limbfe.errors import CaseError, Fault
from limbfe.stave.columns import FLAT, NAMED, Column
from limbfe.units import Kind, UnitError, parse_number

MOST_STATIONS = 2000
"""Rows of a table."""
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
        try:
            content = read_bytes(place, str(place))
            read += content
            columns, lines = _read_columns(decode(content, str(place)), str(place), NAMED)
        except CaseError as error:
            raise CaseError(str(error), faults=(Fault(loc=loc, words=str(error)),)) from None
        for name in columns:
            if name in table:
                raise text.refusal(
                    Problem(loc, f'holds a column "{name}" that the case gives too; keep one')
                )
            columns_from[side, name] = (table["table"], lines)
        filled[side] = {**table, **columns}
    raw = {**document, "limb": filled}
    return CaseText(file=str(path), raw=raw, columns_from=columns_from), read


def fill_stave_columns(
    document: dict[str, Any], path: Path, names: Sequence[str]
) -> tuple[CaseText, bytes]:
    """Return a stave sheet with the columns of its CSV table filled in, and the table's bytes.

    Parameters
    ----------
    document : dict
        The sheet as TOML gave it; left as it is.
    path : Path
        The sheet.  Its table must lie in the same folder.
    names : sequence of str
        Columns there are.

    Raises
    ------
    CaseError
        If the table lies elsewhere, or cannot be read as columns of numbers.
    """
    text = CaseText(file=str(path), raw=document)
    table = document.get("stave")
    if not (isinstance(table, dict) and isinstance(table.get("table"), str)):
        return text, b""
    loc = ("stave", "table")
    place = _beside(table["table"], path, text, loc)
    content = read_bytes(place, str(place))
    known = {name: _ANGLE if name == "twist" else _LENGTH for name in names}
    columns, lines = _read_columns(decode(content, str(place)), str(place), known)
    for name in columns:
        if name in table:
            raise text.refusal(
                Problem(loc, f'holds a column "{name}" that the sheet gives too; keep one')
            )
    raw = {**document, "stave": {**table, **columns}}
    columns_from = {("stave", name): (table["table"], lines) for name in columns}
    return CaseText(file=str(path), raw=raw, columns_from=columns_from), content


_LENGTH = Column(name="", about="", example="")
_ANGLE = Column(name="", about="", example="", kind="angle")


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


def _read_columns(
    text: str, file: str, known: Mapping[str, Column]
) -> tuple[dict[str, list[float | str]], tuple[int, ...]]:
    """Return the columns by name and the line each row stands on."""
    kinds: dict[str, Kind | None] = {name: column.kind for name, column in known.items()}
    sheet = read_spreadsheet(text, file, kinds, MOST_STATIONS)
    columns: dict[str, list[float | str]] = {name: [] for name in sheet.headings}
    for row in sheet.rows:
        missing = [name for name in sheet.headings if name not in row.words]
        if missing:
            raise CaseError(
                f"{file}: line {row.line}: has no {missing[0]}; give every station one value for "
                "each column"
            )
        for name in sheet.headings:
            columns[name].append(_value(row.words[name], known[name], sheet, row))
    return columns, tuple(row.line for row in sheet.rows)


def _value(cell: str, column: Column, sheet: Spreadsheet, row: Row) -> float | str:
    """Return a bare number, or one with the unit that stands in the heading."""
    if column.flat and cell.lower() == FLAT:
        return FLAT
    unit = sheet.units.get(column.name)
    try:
        number = parse_number(cell[:100])
    except UnitError:
        read_as = "degrees" if column.kind == "angle" else "that of its table"
        raise CaseError(
            f"{sheet.where(row, column.name)}: must be a bare number, such as 36.5 or 36 1/2"
            f"{f', or {FLAT}' if column.flat else ''}; its unit is that of the heading, or "
            f"{read_as}"
        ) from None
    return f"{number!r} {unit}" if unit else number
