"""From a path to a checked stave sheet and the bow that is wanted of it."""

from __future__ import annotations

import hashlib
import statistics
from os import PathLike
from pathlib import Path
from typing import Any

from limbfe.case.checks import file_problems
from limbfe.case.columns import fill_stave_columns
from limbfe.case.document import read_bytes
from limbfe.case.limb_checks import limb_tables
from limbfe.case.load import parse_file, read_case
from limbfe.case.messages import CaseText, Problem, refuse
from limbfe.case.schema import Case, CaseFile, GrainTable, LimbsTable, LimbTable
from limbfe.case.sheet_checks import COLUMNS, sheet_problems
from limbfe.case.sheet_schema import Sheet, SheetFile
from limbfe.case.sheet_zone_checks import sheet_zone_problems
from limbfe.case.taper_checks import taper_problems, taper_words, with_stations
from limbfe.errors import CaseError, Fault
from limbfe.units import both_lengths

MOST_SAPWOOD = 0.6
"""Share of the wanted limb's thickness that the stave's sapwood may take in the search."""


def read_sheet(path: str | PathLike[str]) -> Sheet:
    """Read and check a stave sheet, its table and the case of the wanted bow.

    Parameters
    ----------
    path : path-like
        A TOML file in UTF-8.

    Raises
    ------
    CaseError
        Naming the file, the key, the value, what is allowed and what to do.
    """
    path = Path(path)
    return sheet_of(read_bytes(path, str(path)), path)


def fill_sheet(document: dict[str, Any], path: Path) -> tuple[CaseText, bytes]:
    """Return a stave sheet with the columns of its CSV table filled in, and the table's bytes."""
    return fill_stave_columns(document, path, ("station", *COLUMNS))


def sheet_of(content: bytes, path: Path) -> Sheet:
    """Check a stave sheet whose text is not, or not yet, that of the file it is called by.

    Parameters
    ----------
    content : bytes
        TOML in UTF-8.
    path : Path
        What messages call it; its table and the wanted bow are looked for from its folder.

    Raises
    ------
    CaseError
        As `read_sheet`.
    """
    file, text, own = parse_file(content, path, SheetFile, fill_sheet)
    refuse(text, sheet_problems(file))
    refuse(text, sheet_zone_problems(file))
    bow = _wanted_bow(file, path, text)
    refuse(text, _length_problems(file, bow))
    digest = hashlib.sha256((own + bow.digest).encode()).hexdigest()
    return Sheet(path=path, digest=digest, file=file, bow=bow)


def bow_length(bow: Case) -> float:
    """Return the length of a case's bow from nock to nock along the back, m."""
    return sum(table.station[-1] for _, table in limb_tables(bow.file).values())


def _length_problems(file: SheetFile, bow: Case) -> list[Problem]:
    end, length = file.stave.station[-1], bow_length(bow)
    spare = 2.0 * file.spare.end
    if length + spare <= end:
        return []
    loc = ("bow", "case") if file.bow.case is not None else ("taper", "length")
    if length <= end:
        reason = (
            f"the bow is {both_lengths(length)} long from nock to nock and the stave "
            f"{both_lengths(end)}: that leaves {both_lengths(0.5 * (end - length))} at each end "
            f"where [spare] end asks for {both_lengths(file.spare.end)}; lower that, or shorten "
            "the bow"
        )
    else:
        reason = (
            f"the bow is {both_lengths(length)} long from nock to nock and the stave only "
            f"{both_lengths(end)}; at most {both_lengths(max(end - spare, 0.0))} fits with what "
            "[spare] end leaves: shorten the bow"
        )
    return [Problem(loc, reason)]


def _wanted_bow(file: SheetFile, path: Path, text: CaseText) -> Case:
    if file.bow.case is None:
        return _tapered(file, path, text)
    place = path.parent / file.bow.case
    try:
        case = read_case(place)
    except CaseError as error:  # at its place in the sheet, whatever it is in the case
        raise CaseError(
            str(error), faults=(Fault(loc=("bow", "case"), words=str(error)),)
        ) from None
    changes: dict[str, Any] = {
        "knot": (),
        "decay": (),
        "grain": GrainTable(),
        "limb": _own_limbs(case.file, file),
        "taper": None,
        "question": file.question,
    }
    if file.wood is not None:
        changes["wood"] = file.wood
    wanted = case.file.model_copy(update=changes)
    refuse(text, file_problems(wanted))
    return Case(path=place, digest=case.digest, file=wanted)


def _tapered(file: SheetFile, path: Path, text: CaseText) -> Case:
    names = ("title", "question", "wood", "section", "taper", "grip", "string", "draw")
    parts: dict[str, Any] = {name: getattr(file, name) for name in names}
    made = CaseFile.model_construct(**parts)
    refuse(text, taper_problems(made))
    whole = with_stations(made)
    whole = whole.model_copy(update={"limb": _own_limbs(whole, file)})
    refuse(text, (taper_words(problem, made) for problem in file_problems(whole)))
    return Case(path=path, digest="", file=whole.model_copy(update={"taper": None}))


def _own_limbs(wanted: CaseFile, file: SheetFile) -> LimbsTable:
    """Return the limbs' sizes alone: their wood lies as the stave has it, and straight so far."""
    limbs: dict[str, Any] = {}
    for _, (heading, table) in limb_tables(wanted).items():
        sapwood = None
        if file.stave.sapwood is not None:
            deep = statistics.median(file.stave.sapwood)
            sapwood = tuple(min(deep, MOST_SAPWOOD * thick) for thick in table.thickness)
        elif file.wood is None:
            sapwood = table.sapwood
        kept = ("unit", "station", "width", "thickness", "backing", "crown")
        own: dict[str, Any] = {name: getattr(table, name) for name in kept}
        limbs[heading] = LimbTable.model_construct(**own, sapwood=sapwood)
    return LimbsTable.model_construct(**limbs)
