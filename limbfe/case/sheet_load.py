"""From a path to a checked stave sheet and the bow that is wanted of it."""

from __future__ import annotations

import hashlib
import math
import statistics
from os import PathLike
from pathlib import Path
from typing import Any

import numpy as np

from limbfe.case.checks import file_problems
from limbfe.case.columns import fill_stave_columns
from limbfe.case.document import read_bytes
from limbfe.case.limb_checks import each_table, limb_tables
from limbfe.case.load import parse_file, read_case
from limbfe.case.messages import CaseText, Problem, refuse
from limbfe.case.schema import Case, CaseFile, CrownTable, GrainTable, LimbsTable, LimbTable
from limbfe.case.sheet_checks import COLUMNS, sheet_problems
from limbfe.case.sheet_schema import Sheet, SheetFile
from limbfe.case.sheet_zone_checks import sheet_zone_problems
from limbfe.case.taper_checks import taper_problems, taper_words, with_stations
from limbfe.errors import CaseError, Fault
from limbfe.stave.recurve import bent_sharply
from limbfe.units import both_lengths

MOST_SAPWOOD = 0.6
"""Share of the wanted limb's thickness that the stave's sapwood may take in the search."""
ROUNDEST = 0.9
"""Share of the thickness that a round back may take at the limb's edges, as in a case."""


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
        if not place.is_file():  # what is wrong then is the sheet
            raise text.refusal(
                Problem(("bow", "case"), str(error).removeprefix(f"{place}: "))
            ) from None
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
    refuse(text, _round_back_problems(file, wanted))
    wanted = _with_back(file, wanted)
    refuse(text, file_problems(wanted))
    return Case(path=place, digest=case.digest, file=wanted)


def _tapered(file: SheetFile, path: Path, text: CaseText) -> Case:
    names = ("title", "question", "wood", "section", "taper", "grip", "string", "draw")
    parts: dict[str, Any] = {name: getattr(file, name) for name in names}
    made = CaseFile.model_construct(**parts)
    refuse(text, taper_problems(made))
    whole = with_stations(made)
    whole = whole.model_copy(update={"limb": _own_limbs(whole, file)})
    refuse(text, _round_back_problems(file, whole))
    whole = _with_back(file, whole)
    refuse(text, (taper_words(problem, made) for problem in file_problems(whole)))
    return Case(path=path, digest="", file=whole.model_copy(update={"taper": None}))


def keeps_round_back(file: SheetFile, wanted: CaseFile) -> bool:
    """Return whether a bow keeps the back of its stave: its rings are known to be round.

    A strip glued on the back lies as the wanted bow has it.
    """
    if file.stave.pith is None and file.stave.pith_ends is None:
        return False
    return not any(any(table.backing or ()) for _, table in each_table(wanted))


def _pith(file: SheetFile) -> tuple[str, tuple[float, ...]]:
    """Return the key of the pith's depth and its values below the wood's back, m."""
    stave = file.stave
    key = "pith" if stave.pith_ends is None else "pith_ends"
    over = (stave.bark or 0.0) if stave.over_bark else 0.0
    return key, tuple(depth - over for depth in getattr(stave, key))


def _with_back(file: SheetFile, wanted: CaseFile) -> CaseFile:
    """Return the wanted bow with a back as round as the stave's is in the median."""
    if not keeps_round_back(file, wanted):
        return wanted
    crown = CrownTable.model_construct(crown=statistics.median(_pith(file)[1]))
    return wanted.model_copy(update={"section": wanted.section.model_copy(update={"back": crown})})


def _round_back_problems(file: SheetFile, wanted: CaseFile) -> list[Problem]:
    """Return where a pole is too slender for a bow that keeps its round back."""
    if not keeps_round_back(file, wanted):
        return []
    key, depths = _pith(file)
    least = min(depths)
    for _, table in each_table(wanted):
        for width, thick in zip(table.width, table.thickness, strict=True):
            half = 0.5 * width
            arch = least - math.sqrt(least**2 - half**2) if half < least else math.inf
            if arch > ROUNDEST * thick:
                return [
                    Problem(
                        ("stave", key),
                        f"is {both_lengths(least)} at the least: a back as round as that falls "
                        f"away over nearly the whole thickness ({both_lengths(thick)}) at the "
                        f"edges of a limb {both_lengths(width)} wide; want a narrower bow, or "
                        "correct the pith's depth",
                    )
                ]
    return []


def _own_limbs(wanted: CaseFile, file: SheetFile) -> LimbsTable:
    """Return the limbs' sizes alone: their wood lies as the stave has it, and straight so far.

    A recurve is kept: no stave grows so, it is bent in.
    """
    limbs: dict[str, Any] = {}
    recurve = any(
        table.reflex and bool(bent_sharply(np.array(table.station), np.array(table.reflex)).any())
        for _, table in each_table(wanted)
    )
    for _, (heading, table) in limb_tables(wanted).items():
        sapwood = None
        if file.stave.sapwood is not None:
            deep = statistics.median(file.stave.sapwood)
            sapwood = tuple(min(deep, MOST_SAPWOOD * thick) for thick in table.thickness)
        elif file.wood is None:
            sapwood = table.sapwood
        kept: tuple[str, ...] = ("unit", "station", "width", "thickness", "backing")
        if not keeps_round_back(file, wanted):
            kept = (*kept, "crown")
        if recurve:
            kept = (*kept, "reflex")
        own: dict[str, Any] = {name: getattr(table, name) for name in kept}
        limbs[heading] = LimbTable.model_construct(**own, sapwood=sapwood)
    return LimbsTable.model_construct(**limbs)
