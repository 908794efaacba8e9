"""Rows and columns of a CSV file, however a spreadsheet wrote it."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass

from limbfe.case.messages import nearest, show
from limbfe.errors import CaseError
from limbfe.units import Kind, UnitError, unit_factor

NOTES = ("note", "notes", "remark", "remarks", "comment", "comments")
"""Headings of columns for the writer's own words, which nobody reads here."""

_HEADING = re.compile(r"(?P<name>[^\[\](){}]*?)\s*(?:[\[(]\s*(?P<unit>[^\])]*?)\s*[\])])?")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line below the headings.

    Attributes
    ----------
    line : int
        In the file, from 1.
    words : dict
        What stands in each column, stripped, decimal commas as points; empty cells are left out.
    """

    line: int
    words: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreadsheet:
    """A table as it was written.

    Attributes
    ----------
    file : str
    headings : tuple of str
        The names of its columns, without units and notes.
    units : dict
        Unit of each column whose heading has one.
    rows : tuple of Row
    line : int
        Where the headings stand.
    between : str
        What stands between its columns.
    places : tuple of str
        The names of its columns as they stand, empty for notes.
    """

    file: str
    headings: tuple[str, ...]
    units: dict[str, str]
    rows: tuple[Row, ...]
    line: int
    between: str
    places: tuple[str, ...]

    def where(self, row: Row, name: str) -> str:
        """Return the place and the value of a cell, for messages."""
        unit = self.units.get(name)
        label = f"{name} [{unit}]" if unit else name
        return f"{self.file}: line {row.line}: {label} = {show(row.words.get(name, ''))}"


def read_spreadsheet(
    text: str, file: str, columns: Mapping[str, Kind | None], most_rows: int
) -> Spreadsheet:
    """Return the table in a text.

    Commas, semicolons or tabs may stand between the columns, and with the last two a decimal
    comma in the numbers.  Empty lines, lines that begin with ``#`` and a spreadsheet's ``sep=``
    are passed over, and so are columns of notes.  Headings may have capitals, spaces or hyphens in
    place of underscores, and a unit behind them in brackets.

    Parameters
    ----------
    text, file : str
        What the file holds and what to call it.
    columns : mapping of str to kind
        Every column and the kind of its unit; None for words.
    most_rows : int

    Raises
    ------
    CaseError
        Naming the file and the line, for anything that is not such a table.
    """
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip().strip(",;\t") and not re.match(r"[ \"]*(?:#|sep=)", line)
    ]
    if len(lines) < 2:
        raise CaseError(f"{file}: must hold a line of headings and below it a line for each row")
    if len(lines) > most_rows + 1:
        raise CaseError(f"{file}: has {len(lines) - 1} rows; at most {most_rows} are read")
    between = _separator(lines[0][1])
    names, units = _headings(
        _cells(lines[0], between, file), f"{file}: line {lines[0][0]}", columns
    )
    rows = []
    for line in lines[1:]:
        cells = _cells(line, between, file)
        while len(cells) > len(names) and not cells[-1]:
            cells.pop()
        if len(cells) > len(names):
            raise CaseError(_too_many(file, line[0], cells, names, between))
        words = {
            name: cell.replace(",", ".") if _DECIMAL_COMMA.fullmatch(cell) else cell
            for name, cell in zip(names, cells, strict=False)
            if cell and name
        }
        rows.append(Row(line=line[0], words=words))
    return Spreadsheet(
        file=file,
        headings=tuple(name for name in names if name),
        units=units,
        rows=tuple(rows),
        line=lines[0][0],
        between=between,
        places=tuple(names),
    )


def _separator(heading: str) -> str:
    """Return what stands between the headings; units never hold it."""
    return max(";\t,", key=heading.count)


def _cells(line: tuple[int, str], between: str, file: str) -> list[str]:
    try:
        (cells,) = csv.reader([line[1]], delimiter=between, skipinitialspace=True, strict=True)
    except csv.Error as error:
        raise CaseError(
            f"{file}: line {line[0]}: not readable as CSV ({error}); quotes come in pairs"
        ) from None
    return [cell.strip() for cell in cells]


def _too_many(file: str, line: int, cells: list[str], names: list[str], between: str) -> str:
    found = f"{file}: line {line}: has {len(cells)} values for {len(names)} columns"
    if between == ",":
        return (
            f"{found}; a number with a decimal comma needs semicolons between the columns, or "
            "write decimal points"
        )
    return f"{found}; give one for each, separated as the headings are"


def _headings(
    cells: list[str], where: str, columns: Mapping[str, Kind | None]
) -> tuple[list[str], dict[str, str]]:
    """Return the names of the columns, empty for notes, and the units of those that have one."""
    names: list[str] = []
    units: dict[str, str] = {}
    while cells and not cells[-1]:
        cells.pop()
    for cell in cells:
        match = _HEADING.fullmatch(cell)
        name = re.sub(r"[\s-]+", "_", match["name"].strip().lower()) if match else cell
        if name in NOTES:
            names.append("")
            continue
        if name not in columns:
            if any(sign in cell for sign in ";\t,"):
                raise CaseError(f"{where}: {show(cell)}: columns must all be separated alike")
            close = nearest(name, columns)
            hint = f'did you mean "{close}"?' if close else f"use {', '.join(columns)}, or notes"
            raise CaseError(f"{where}: {show(cell)}: unknown column; {hint}")
        if name in names:
            raise CaseError(f"{where}: {show(cell)}: stands twice; keep one column of that name")
        names.append(name)
        kind, unit = columns[name], match["unit"] if match else None
        if unit and kind is None:
            raise CaseError(f"{where}: {show(cell)}: holds words and has no unit; take it away")
        if unit and kind is not None:
            try:
                unit_factor(unit, kind)
            except UnitError as error:
                raise CaseError(f"{where}: {show(cell)}: {error}") from None
            units[name] = unit
    return names, units
