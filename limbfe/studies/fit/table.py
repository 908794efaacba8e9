"""The columns of a CSV file of readings."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from limbfe.case.document import decode, read_bytes
from limbfe.case.spreadsheet import Row as SheetRow
from limbfe.case.spreadsheet import Spreadsheet, read_spreadsheet
from limbfe.errors import CaseError
from limbfe.units import Kind, UnitError, parse_quantity

COLUMNS: dict[str, Kind | None] = {
    "draw_length": "length",
    "draw_force": "draw weight",
    "force_scatter": "draw weight",
    "upper_tip": "length",
    "lower_tip": "length",
    "limb": None,
    "at": "length",
    "position": "length",
    "position_scatter": "length",
    "date": None,
    "set": "length",
    "moisture": "fraction",
}
"""Every column and the kind of its unit; None for words."""
LOGGED = frozenset({"date", "set", "moisture"})
"""Columns of a session of a tillering log: of the bow on that day, not of one draw."""

MOST_ROWS = 2000
_UNITS: dict[Kind, str] = {
    "draw weight": "[N], [lbf] or [kgf]",
    "length": "[mm], [cm] or [in]",
    "fraction": "[%]",
}
BARE: dict[Kind, str] = {"fraction": "%"}
"""What a bare number is, as in a case file."""
_NUMBER = re.compile(
    r"[+-]?(?:[0-9]+\s+)?(?:[0-9]+\s*/\s*[0-9]+|(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)"
)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of readings: a row and the table it stands in."""

    row: SheetRow
    sheet: Spreadsheet

    @property
    def line(self) -> int:
        """In the file, from 1."""
        return self.row.line

    @property
    def words(self) -> dict[str, str]:
        """What stands in each column; empty cells are left out."""
        return self.row.words

    @property
    def file(self) -> str:
        """The file's name."""
        return self.sheet.file

    def where(self, name: str) -> str:
        """Return the place and the value of a cell, for messages."""
        return self.sheet.where(self.row, name)

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
        kind = COLUMNS[name]
        assert kind is not None
        if not _NUMBER.fullmatch(word):
            raise CaseError(
                f"{self.where(name)}: must be a bare number, such as 431.5 or 17 1/4; its unit "
                "stands in the heading, and a reading that was not taken is left empty"
            )
        try:
            return parse_quantity(f"{word} {self.sheet.units.get(name, BARE.get(kind))}", kind)
        except UnitError as error:
            raise CaseError(f"{self.where(name)}: {error}") from None


def read_table(path: Path) -> list[Row]:
    """Return the rows of a file of readings; see `table_of`."""
    file = str(path)
    return table_of(decode(read_bytes(path, file), file), file)


def table_of(text: str, file: str) -> list[Row]:
    """Return the rows of readings, written as `read_spreadsheet` takes them.

    Raises
    ------
    CaseError
        Naming the file and the line, for anything that is not such a table.
    """
    sheet = read_spreadsheet(text, file, COLUMNS, MOST_ROWS)
    where = f"{file}: line {sheet.line}"
    for name in sheet.headings:
        kind = COLUMNS[name]
        if kind is not None and kind not in BARE and name not in sheet.units:
            examples = _UNITS[kind]
            raise CaseError(
                f'{where}: "{name}": has no unit; write it behind the name: {name} {examples}'
            )
    if "draw_length" not in sheet.headings:
        raise CaseError(
            f"{where}: no column draw_length; every reading needs how far the bow was drawn, as "
            "draw_length [mm] or draw_length [in]"
        )
    return [Row(row, sheet) for row in sheet.rows]
