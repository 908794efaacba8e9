"""The rows and columns of a CSV file of readings, however the spreadsheet wrote it."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path

from limbfe.case.document import decode, read_bytes
from limbfe.case.messages import nearest, show
from limbfe.errors import CaseError
from limbfe.units import Kind, UnitError, parse_quantity, unit_factor

COLUMNS: dict[str, Kind | None] = {
    "draw_length": "length",
    "draw_force": "force",
    "force_scatter": "force",
    "upper_tip": "length",
    "lower_tip": "length",
    "limb": None,
    "at": "length",
    "position": "length",
    "position_scatter": "length",
}
"""Every column and the kind of its unit; None for words."""

MOST_ROWS = 2000
_HEADING = re.compile(r"(?P<name>[^\[\](){}]*?)\s*(?:[\[(]\s*(?P<unit>[^\])]*?)\s*[\])])?")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+")
_NUMBER = re.compile(
    r"[+-]?(?:[0-9]+\s+)?(?:[0-9]+\s*/\s*[0-9]+|(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of readings.

    Attributes
    ----------
    line : int
    words : dict
        What stands in each column, stripped; empty cells are left out.
    units : dict
        Unit of each column that has one.
    file : str
    """

    line: int
    words: dict[str, str]
    units: dict[str, str]
    file: str

    def where(self, name: str) -> str:
        """Return the place and the value of a cell, for messages."""
        unit = self.units.get(name)
        label = f"{name} [{unit}]" if unit else name
        return f"{self.file}: line {self.line}: {label} = {show(self.words.get(name, ''))}"

    def number(self, name: str) -> float | None:
        """Return a cell in SI, or None where it is empty.

        Raises
        ------
        CaseError
            If it is not a number.
        """
        word = self.words.get(name)
        if word is None:
            return None
        if _DECIMAL_COMMA.fullmatch(word):
            word = word.replace(",", ".")
        kind = COLUMNS[name]
        assert kind is not None
        if not _NUMBER.fullmatch(word):
            raise CaseError(
                f"{self.where(name)}: must be a bare number, such as 431.5 or 17 1/4; its unit "
                "stands in the heading, and a reading that was not taken is left empty"
            )
        try:
            return parse_quantity(f"{word} {self.units[name]}", kind)
        except UnitError as error:
            raise CaseError(f"{self.where(name)}: {error}") from None


def read_table(path: Path) -> list[Row]:
    """Return the rows of a file of readings.

    Commas, semicolons or tabs may stand between the columns, and with the last two a decimal
    comma in the numbers.  Empty lines, lines that begin with ``#`` and a spreadsheet's ``sep=``
    are passed over.

    Raises
    ------
    CaseError
        Naming the file and the line, for anything that is not such a table.
    """
    file = str(path)
    text = decode(read_bytes(path, file), file)
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip().strip(",;\t") and not re.match(r"[ \"]*(?:#|sep=)", line)
    ]
    if len(lines) < 2:
        raise CaseError(
            f"{file}: must hold a line of headings and below it a line for each reading"
        )
    if len(lines) > MOST_ROWS + 1:
        raise CaseError(f"{file}: has {len(lines) - 1} rows; at most {MOST_ROWS} are read")
    between = _separator(lines[0][1])
    names, units = _headings(_cells(lines[0], between, file), f"{file}: line {lines[0][0]}")
    rows = []
    for line in lines[1:]:
        cells = _cells(line, between, file)
        while len(cells) > len(names) and not cells[-1]:
            cells.pop()
        if len(cells) > len(names):
            raise CaseError(_too_many(file, line[0], cells, names, between))
        words = {name: cell for name, cell in zip(names, cells, strict=False) if cell}
        rows.append(Row(line=line[0], words=words, units=units, file=file))
    return rows


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
    return f"{found}; give one for each, and leave a reading that was not taken empty"


def _headings(cells: list[str], where: str) -> tuple[list[str], dict[str, str]]:
    """Return the names of the columns and the units of those that have one."""
    names: list[str] = []
    units: dict[str, str] = {}
    while cells and not cells[-1]:
        cells.pop()
    for cell in cells:
        match = _HEADING.fullmatch(cell)
        name = re.sub(r"[\s-]+", "_", match["name"].strip().lower()) if match else cell
        if name not in COLUMNS:
            close = nearest(name, COLUMNS)
            hint = f'did you mean "{close}"?' if close else f"use {', '.join(COLUMNS)}"
            raise CaseError(f"{where}: {show(cell)}: unknown column; {hint}")
        if name in names:
            raise CaseError(f"{where}: {show(cell)}: stands twice; keep one column of that name")
        names.append(name)
        kind, unit = COLUMNS[name], match["unit"] if match else None
        if kind is None:
            if unit:
                raise CaseError(f"{where}: {show(cell)}: holds words and has no unit; take it away")
            continue
        _check_unit(where, cell, name, unit, kind)
        units[name] = unit or ""
    if "draw_length" not in names:
        raise CaseError(
            f"{where}: no column draw_length; every reading needs how far the bow was drawn, as "
            "draw_length [mm] or draw_length [in]"
        )
    return names, units


def _check_unit(where: str, cell: str, name: str, unit: str | None, kind: Kind) -> None:
    if not unit:
        examples = "[N], [lbf] or [kgf]" if kind == "force" else "[mm], [cm] or [in]"
        raise CaseError(
            f"{where}: {show(cell)}: has no unit; write it behind the name: {name} {examples}"
        )
    try:
        unit_factor(unit, kind)
    except UnitError as error:
        raise CaseError(f"{where}: {show(cell)}: {error}") from None
