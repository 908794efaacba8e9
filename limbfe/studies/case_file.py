"""Write a case with other columns as a case file, in the user's own words and units."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import tomlkit
from tomlkit.items import Array as TomlArray

from limbfe.case.document import decode, read_bytes
from limbfe.case.limb_checks import limb_tables
from limbfe.case.load import read_case
from limbfe.case.schema import Case, LimbTable
from limbfe.errors import CaseError
from limbfe.stave.columns import COLUMNS, FLAT, NAMED, Column
from limbfe.units import UnitError, unit_factor
from limbfe.whole_file import whole_file

SAME = 5e-8
"""Values of a column nearer than this (m or rad) to the user's are left as the user wrote them."""
FINEST = 1e-6
"""m; no more digits are written."""


def check_target(case: Case, path: Path) -> None:
    """Refuse to write a case over the one that was read, or where it cannot be written.

    Raises
    ------
    CaseError
    """
    if path.suffix != ".toml":
        raise CaseError(f"--out {path}: a case file ends in .toml; give such a name")
    if not path.parent.is_dir():
        raise CaseError(f'--out {path}: there is no folder "{path.parent}"; make it first')
    if path.exists() and path.samefile(case.path):
        raise CaseError(
            f"--out {path}: that is the case itself; give another name, so that what you measured "
            "is kept"
        )


def write_case(
    case: Case,
    path: Path,
    heading: Sequence[str],
    *,
    also: Callable[[tomlkit.TOMLDocument], None] | None = None,
) -> Path:
    """Write a case whose columns or draw length were changed since it was read.

    Parameters
    ----------
    case : Case
        Its `path` still names the file it was read from.
    path : Path
        Written whole or not at all; read back and checked before it takes its name.
    heading : sequence of str
        Lines of comment put on top.
    also : callable, optional
        Makes further changes to the document before it is written.

    Returns
    -------
    Path

    Notes
    -----
    Everything that did not change stays as the user wrote it, comments and spacing included.
    Columns from a CSV file are written into the case, which then needs no file beside it.

    Raises
    ------
    CaseError
        If the file cannot be written, or would not be read as the same case.
    """
    check_target(case, path)
    text = decode(read_bytes(case.path, str(case.path)), str(case.path))
    document = tomlkit.parse(text)
    was = read_case(case.path)
    _write_limbs(document, case, was)
    if case.file.draw.length != was.file.draw.length:
        unit = _unit_of(document["draw"])
        document["draw"]["length"] = f"{_plain(_rounded(case.file.draw.length, unit))} {unit}"
    if also is not None:
        also(document)
    comment = "".join(f"# {line}\n" for line in heading)
    with whole_file(path) as partial:
        partial.write_text(f"{comment}\n{tomlkit.dumps(document)}", encoding="utf-8")
        _check_same(case, partial, path)
    return path


def _write_limbs(document: tomlkit.TOMLDocument, case: Case, was: Case) -> None:
    if was.file.taper is not None:
        if case.file.taper is None:
            _replace_taper(document, case)
        return
    limbs: Any = document["limb"]
    if was.file.limb.both is not None and case.file.limb.both is None:
        _divide(limbs)
    before = {limb: table for limb, (_, table) in limb_tables(was.file).items()}
    for limb, (heading, table) in limb_tables(case.file).items():
        inline = limbs[heading].pop("table", None) is not None
        for name, old, new in _columns(before[limb], table):
            if inline and name not in limbs[heading]:
                old = ()
            if len(old) == len(new) and np.allclose(old, new, rtol=0.0, atol=SAME):
                continue
            limbs[heading][name] = _array(name, new, limbs[heading].get("unit"))


def _replace_taper(document: tomlkit.TOMLDocument, case: Case) -> None:
    """Put the stations that the taper stood for in its place; they no longer follow it."""
    limbs, unit = tomlkit.table(is_super_table=True), _unit_of(document["taper"])
    for heading, table in dict(limb_tables(case.file).values()).items():
        limb = tomlkit.table()
        limb.add("unit", unit)
        for name in ("station", *COLUMNS):
            values = getattr(table, name)
            if values is not None:
                limb.add(name, _array(name, values, unit))
        limb.add(tomlkit.nl())
        limbs.append(heading, limb)
    body = document.body
    at = next(k for k, (key, _) in enumerate(body) if key is not None and key.key == "taper")
    document.remove("taper")
    rest = [(key, item) for key, item in body[at + 1 :] if key is not None]
    for key, _ in rest:
        document.remove(key)
    document.append("limb", limbs)
    for key, item in rest:
        document.append(key, item)


def _divide(limbs: Any) -> None:
    """Put the limbs under two headings in place of one."""
    body = limbs["both"]
    keys = list(limbs.keys())
    others = {key: limbs[key] for key in keys if key != "both"}
    for key in keys:
        limbs.remove(key)
    for side in ("upper", "lower"):
        limbs.append(side, copy.deepcopy(body))
    for key, table in others.items():
        limbs.append(key, table)


def _columns(
    before: LimbTable, after: LimbTable
) -> Iterator[tuple[str, tuple[float, ...], tuple[float, ...]]]:
    for name in ("station", *COLUMNS):
        new = getattr(after, name)
        if new is not None:
            yield name, getattr(before, name) or (), new


def _array(name: str, values: tuple[float, ...], unit: str | None) -> TomlArray:
    """Return a column in the table's unit, or with mm beside every value when it names none."""
    array = tomlkit.array()
    array.extend(_written(NAMED[name], value, unit) for value in values)
    return array


def _written(column: Column, value: float, unit: str | None) -> float | int | str:
    if math.isinf(value):
        return FLAT
    if column.kind == "angle":
        return _plain(round(math.degrees(value), 4))
    if unit is not None:
        return _plain(_rounded(value, str(unit)))
    return f"{_plain(_rounded(value, 'mm'))} mm"


def _rounded(value: float, unit: str) -> float:
    one = unit_factor(unit, "length")
    return round(value / one, math.ceil(math.log10(one / FINEST) - 1e-9))


def _unit_of(table: Any) -> str:
    """Return the unit of length that a table of the user's names, or writes its length in."""
    said = str(table.get("unit") or str(table["length"]).split()[-1])
    try:
        unit_factor(said, "length")
    except UnitError:
        return "mm"
    return said


def _plain(value: float) -> float | int:
    return int(value) if value == int(value) else value


def _check_same(case: Case, partial: Path, path: Path) -> None:
    """Make sure that what was written says what was computed."""
    try:
        written = read_case(partial)
    except CaseError as error:
        raise CaseError(str(error).replace(str(partial), str(path))) from error
    wanted, found = limb_tables(case.file), limb_tables(written.file)
    same = abs(case.file.draw.length - written.file.draw.length) < 1e-6
    for limb, (_, table) in wanted.items():
        for _, new, old in _columns(found[limb][1], table):
            same &= len(new) == len(old) and np.allclose(new, old, rtol=0.0, atol=1e-6)
    if not same:
        raise CaseError(
            f"--out {path}: the case is laid out in a way that cannot be changed safely; give its "
            "columns as plain lists under [limb.upper] and [limb.lower]"
        )
