"""CSV files for spreadsheets."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from limbfe.whole_file import whole_file


def write_csv(path: Path, headings: Sequence[str], lines: Iterable[Sequence[Any]]) -> Path:
    """Write headings and lines; return the path.

    Text that a spreadsheet would take for a formula, such as a title that begins with an equals
    sign, gets an apostrophe in front, as one types it to have it taken as text.  Common practice:
    OWASP, CSV Injection (from memory).
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerows(_plain(line) for line in (headings, *lines))
    with whole_file(path) as partial:
        partial.write_text(text.getvalue(), encoding="utf-8")
    return path


def _plain(line: Sequence[Any]) -> list[Any]:
    known = int | float | None
    return [cell if isinstance(cell, known) else _as_text(str(cell)) for cell in line]


_FORMULA = re.compile(r"(?:^|(?<=[;\t\r\n]))(?=[=+\-@\t\r\uff1d\uff0b\uff0d\uff20])")
"""Before what begins a formula: in a cell, and in what a spreadsheet that splits lines at
semicolons or tabs takes for one; wide signs, as East Asian keyboards type them, too."""


def _as_text(cell: str) -> str:
    try:
        float(cell)
    except ValueError:
        return _FORMULA.sub("'", cell)
    return cell
