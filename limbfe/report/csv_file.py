"""CSV files for spreadsheets."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from limbfe.whole_file import whole_file


def write_csv(path: Path, headings: Sequence[str], lines: Iterable[Sequence[Any]]) -> Path:
    """Write headings and lines; return the path.

    Text that a spreadsheet would take for a formula, such as a title that begins with an equals
    sign, gets an apostrophe in front, as one types it to have it taken as text.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(headings)
    writer.writerows(_plain(line) for line in lines)
    with whole_file(path) as partial:
        partial.write_text(text.getvalue(), encoding="utf-8")
    return path


def _plain(line: Sequence[Any]) -> list[Any]:
    return [_as_text(cell) if isinstance(cell, str) else cell for cell in line]


def _as_text(cell: str) -> str:
    if not cell.startswith(("=", "+", "-", "@", "\t", "\r")):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell
