"""The tillering log of a bow: a CSV file beside its case, to which readings are added one by one.

The file stays its writer's own: a reading is one new line in it, in the order that the reader
asks for, and every other line stays as it was, comments too.  What reads such files is loaded when
one is looked at, for it takes as long to load as all the rest of the page.
"""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from limbfe.analysis.bow.setup import BowSetup
from limbfe.errors import CaseError
from limbfe.page.desk import ChangedMeanwhileError
from limbfe.page.folder import Folder

if TYPE_CHECKING:
    from limbfe.studies.fit.table import Row

ENDING = ".csv"
LONGEST_CELL = 60
ENTERED = (
    *("date", "draw_length", "draw_force", "upper_tip", "lower_tip", "limb", "at", "position"),
    *("set", "moisture"),
)
"""What the page asks for, in the order of a new file's columns."""
UNITS = {"length": ("mm", "in"), "force": ("N", "lbf", "kgf")}
_LENGTHS = ("draw_length", "upper_tip", "lower_tip", "at", "position", "set")


def log_name(case: str) -> str:
    """Return what the log of a case is called.

    Examples
    --------
    >>> log_name("flatbow.toml")
    'flatbow_log.csv'
    """
    return f"{Path(case).stem}_log{ENDING}"


@dataclass(frozen=True, slots=True)
class Change:
    """One change of a log.

    Attributes
    ----------
    words : mapping of str to str, or None
        A reading by column, as `ENTERED` has them; None to take one out only.
    line : int or None
        Of the reading whose place it takes, or that is taken out.
    units : mapping of str to str
        ``"length"`` and ``"force"``, for a file that is not there yet.
    """

    words: Mapping[str, str] | None
    line: int | None
    units: Mapping[str, str]


def look_at_log(folder: Folder, name: str, setup: BowSetup | None) -> dict[str, Any]:
    """Return a log as the page shows it.

    Returns
    -------
    dict
        ``"digest"``, None where there is no file yet; ``"units"`` by column; ``"dated"``;
        ``"sessions"``, each its ``"date"`` and ``"rows"`` of ``"line"`` and ``"words"``;
        ``"message"``, what the reader says of it, empty if nothing.
    """
    from limbfe.studies.fit.log import days_of, sessions_of
    from limbfe.studies.fit.table import table_of

    found: dict[str, Any] = {
        "name": name,
        "digest": folder.digest(name, ENDING),
        "units": {},
        "dated": True,
        "sessions": [],
        "message": "",
    }
    if found["digest"] is None:
        return found
    text, found["digest"] = folder.read(name, ENDING)
    try:
        rows = table_of(text, name)
        found["units"] = dict(rows[0].sheet.units)
        found["dated"] = "date" in rows[0].sheet.headings
        found["sessions"] = [_session(date, own) for date, own in days_of(rows)]
        if setup is not None:
            sessions_of(rows, setup, name)
    except CaseError as error:
        found["message"] = str(error)
    return found


def _session(date: datetime.date | None, rows: Sequence[Row]) -> dict[str, Any]:
    return {
        "date": None if date is None else date.isoformat(),
        "rows": [{"line": row.line, "words": row.words} for row in rows],
    }


@dataclass(frozen=True, slots=True)
class Before:
    """A log as it was before a change.

    Attributes
    ----------
    text : str or None
        None where there was no file.
    after : str
        Digest of the log that the change made.
    """

    text: str | None
    after: str


def change_log(
    folder: Folder, name: str, digest: str | None, change: Change, setup: BowSetup
) -> Before:
    """Make a change, if the log is still the one it was made to and stays one that is read.

    Parameters
    ----------
    folder : Folder
    name : str
    digest : str or None
        Of the log as it was seen; None for one that was not there.
    change : Change
    setup : BowSetup
        The bow, which readings are checked against.

    Returns
    -------
    Before
        The way back; see `undo_log`.

    Raises
    ------
    ChangedMeanwhileError
        If the file is another one by now.
    CaseError
        If the reading cannot be one of this bow, or the file cannot be read or written.
    """
    from limbfe.studies.fit.log import sessions_of
    from limbfe.studies.fit.table import table_of

    if folder.digest(name, ENDING) != digest:
        raise ChangedMeanwhileError(f"{name} was changed meanwhile; look at it as it is now")
    words = None if change.words is None else _cleaned(change.words)
    before: str | None = None
    if digest is None:
        if words is None:
            raise CaseError(f"{name}: there is no log yet")
        text = _new_log(words, change.units)
    else:
        before, _ = folder.read(name, ENDING)
        text = before
        if words is not None:
            text = _with(text, name, words, change.line)
        elif change.line is not None:
            text = _without(text, name, change.line, ("date", "set", "moisture"))
    sessions_of(table_of(text, name), setup, name)
    return Before(before, folder.write(name, text, ENDING))


def undo_log(folder: Folder, name: str, before: Before) -> None:
    """Put a log back as it was before a change, a file that was begun with it included.

    Raises
    ------
    ChangedMeanwhileError
        If something else was done to it since.
    """
    if folder.digest(name, ENDING) != before.after:
        raise ChangedMeanwhileError(f"{name} was changed since; look at it as it is now")
    if before.text is None:
        folder.place(name, ENDING).unlink()
    else:
        folder.write(name, before.text, ENDING)


def _cleaned(words: Mapping[str, str]) -> dict[str, str]:
    found = {}
    for key in ENTERED:
        word = " ".join(str(words.get(key, "")).split())
        if len(word) > LONGEST_CELL or not word.isprintable():
            raise CaseError(f"{key}: must be a short number or word")
        if word:
            found[key] = word
    return found


def _new_log(words: Mapping[str, str], units: Mapping[str, str]) -> str:
    length, force = (units.get(kind, known[0]) for kind, known in UNITS.items())
    if length not in UNITS["length"] or force not in UNITS["force"]:
        raise CaseError("the log's units must be mm or in, and N, lbf or kgf")
    heads = [_heading(key, length, force) for key in ENTERED]
    return f"{','.join(heads)}\n{_line(words, ENTERED, ',')}\n"


def _heading(key: str, length: str, force: str) -> str:
    from limbfe.studies.fit.table import COLUMNS

    kind = COLUMNS[key]
    if kind is None:
        return key
    return f"{key} [{length if kind == 'length' else '%' if kind == 'fraction' else force}]"


def _line(
    words: Mapping[str, str], places: Sequence[str], between: str, old: Sequence[str] = ()
) -> str:
    """Return a line; what the page does not ask for stays as it was in `old`."""
    cells = [*old, *[""] * (len(places) - len(old))]
    for k, name in enumerate(places):
        if name in ENTERED:
            cells[k] = words.get(name, "")
    return _joined_cells(cells, between)


def _joined_cells(cells: Sequence[str], between: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=between, lineterminator="").writerow(cells)
    return out.getvalue()


def _cells(line: str, between: str) -> list[str]:
    (cells,) = csv.reader([line], delimiter=between, skipinitialspace=True)
    return cells


def _with(text: str, name: str, words: dict[str, str], line: int | None) -> str:
    """Return a log with one more line, behind those of its day that were drawn no further.

    It takes the place of `line`, where one is given.
    """
    from limbfe.studies.fit.table import table_of

    rows = table_of(text, name)
    sheet = rows[0].sheet
    lines = text.splitlines()
    places = list(sheet.places)
    if "date" not in places:
        words.pop("date", None)  # a file without dates is one session
    for key in words:
        if key not in places:
            places.append(key)
            units = [sheet.units[one] for one in _LENGTHS if one in sheet.units]
            heading = _heading(key, units[0], sheet.units.get("draw_force", "N"))
            lines[sheet.line - 1] = f"{lines[sheet.line - 1].rstrip()}{sheet.between}{heading}"
    old = _cells(lines[_row_at(rows, name, line).line - 1], sheet.between) if line else ()
    at = _after(rows, words)
    lines.insert(at, _line(words, places, sheet.between, old))
    made = _joined(lines, text)
    return made if line is None else _without(made, name, line + (at < line), ("date",))


def _row_at(rows: list[Row], name: str, line: int | None) -> Row:
    row = next((one for one in rows if one.line == line), None)
    if row is None:
        raise CaseError(f"{name}: line {line} holds no reading; look at the log as it is now")
    return row


def _after(rows: list[Row], words: Mapping[str, str]) -> int:
    """Return after how many lines of the file a reading belongs."""
    from limbfe.studies.fit.log import days_of

    days = days_of(rows)
    drawn = _drawn(words.get("draw_length", ""), rows[0])
    date = _date(words.get("date", ""), rows[0])
    earlier = [own for day, own in days if day is not None and date is not None and day < date]
    for day, own in days:
        if day == date:
            before = [row for row in own if _drawn(row.words.get("draw_length", ""), row) <= drawn]
            return before[-1].line if before else own[0].line - 1
    return earlier[-1][-1].line if earlier else rows[0].line - 1


def _drawn(word: str, like: Row) -> float:
    """Return a draw length, m, as the columns of a table have it; 0 for a braced bow."""
    from limbfe.studies.fit.readings import BRACED

    if not word or word.lower() == BRACED:
        return 0.0
    return _as_row({"draw_length": word}, like).number("draw_length") or 0.0


def _date(word: str, like: Row) -> datetime.date | None:
    from limbfe.studies.fit.log import days_of

    if not word:
        return None
    return days_of([_as_row({"date": word}, like)])[0][0]


def _as_row(words: dict[str, str], like: Row) -> Row:
    from limbfe.studies.fit.table import Row

    return Row(type(like.row)(line=like.line, words=words), like.sheet)


def _without(text: str, name: str, line: int, kept: Sequence[str]) -> str:
    """Return a log without one of its lines; what it said of its day, `kept`, goes to the next."""
    from limbfe.studies.fit.log import days_of
    from limbfe.studies.fit.table import table_of

    rows = table_of(text, name)
    row = _row_at(rows, name, line)
    if len(rows) == 1:
        raise CaseError(f"{name}: holds this one reading; change it, or delete the file")
    lines = text.splitlines()
    own = next(day for _, day in days_of(rows) if row in day)
    after = next((one for one in own if one.line > line), None)
    if after is not None and row is own[0]:
        cells = _cells(lines[after.line - 1], row.sheet.between)
        cells += [""] * (len(row.sheet.places) - len(cells))
        for key in kept:
            if key in row.words:
                k = row.sheet.places.index(key)
                cells[k] = cells[k] or row.words[key]
        lines[after.line - 1] = _joined_cells(cells, row.sheet.between)
    del lines[line - 1]
    return _joined(lines, text)


def _joined(lines: list[str], like: str) -> str:
    end = "\r\n" if "\r\n" in like else "\n"
    return end.join(lines) + end
