"""The files of a layout: the case, and the lines to draw."""

from __future__ import annotations

import csv
from os import PathLike
from pathlib import Path

import numpy as np

from limbfe.case.document import decode, read_bytes
from limbfe.errors import CaseError
from limbfe.frames import Array
from limbfe.studies.lay.lines import rough_lines
from limbfe.studies.lay.results import LaidOut
from limbfe.whole_file import whole_file

LONGEST = 10.0
"""m: no stave is as long, so that a line that lies further out is a slip of the pen."""


def write_case(found: LaidOut, path: Path) -> Path:
    """Write the best layout as a complete case; whole or not at all."""
    with whole_file(path) as partial:
        partial.write_text(found.best.case_text, encoding="utf-8")
    return path


def write_lines(found: LaidOut, path: Path) -> Path:
    """Write the lines to draw, in mm: centre line, finished edges and those of every stage."""
    rows = rough_lines(found)
    with whole_file(path) as partial, partial.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        names = list(rows)
        writer.writerow([f"{name} [mm]" for name in names])
        for k in range(len(rows["station"])):
            writer.writerow([f"{1e3 * rows[name][k]:.2f}" for name in names])
    return path


def read_line(path: str | PathLike[str]) -> tuple[Array, Array]:
    """Return stations and offsets of a line drawn before, m, from ``lines.csv``.

    Raises
    ------
    CaseError
        If it is not such a file.
    """
    path = Path(path)
    text = decode(read_bytes(path, str(path)), str(path))
    try:
        rows = list(csv.reader(text.splitlines()))
    except csv.Error as error:  # a cell longer than any number, a zero byte
        raise CaseError(f"{path}: is no table ({error}); write it anew") from None
    wanted = ("station [mm]", "centre line [mm]")
    if not rows or not all(name in rows[0] for name in wanted):
        raise CaseError(f"{path}: is no lines.csv of a layout; give that of an earlier `lay --out`")
    places = [rows[0].index(name) for name in wanted]
    try:
        values = np.array([[float(row[k]) for k in places] for row in rows[1:]]) * 1e-3
    except (ValueError, IndexError):
        raise CaseError(f"{path}: holds a line that is no numbers; write it anew") from None
    if not np.all(np.abs(values) < LONGEST):
        raise CaseError(f"{path}: holds a number that is no place on a stave, in mm; write it anew")
    if len(values) < 2 or not np.all(np.diff(values[:, 0]) > 0.0):
        raise CaseError(f"{path}: its stations must increase; write it anew")
    return values[:, 0], values[:, 1]
