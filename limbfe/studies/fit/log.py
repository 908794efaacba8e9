"""A tillering log: readings of several days in one file, with the set and moisture of each."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence
from dataclasses import dataclass
from os import PathLike
from pathlib import Path

from limbfe.analysis.bow.setup import BowSetup
from limbfe.errors import CaseError
from limbfe.studies.fit.readings import Readings, check_enough, readings_of
from limbfe.studies.fit.table import Row, read_table
from limbfe.units import both_lengths

MOST_SET = 0.3
"""m; more is another reading, or another unit."""
MOST_MOISTURE = 0.4
"""Above fibre saturation no bow is drawn."""
MOST_SESSIONS = 60
_DATES = (
    (re.compile(r"(?P<y>\d{4})[-/.](?P<m>\d{1,2})[-/.](?P<d>\d{1,2})"), "2024-03-05"),
    (re.compile(r"(?P<d>\d{1,2})\.(?P<m>\d{1,2})\.(?P<y>\d{4})"), "5.3.2024"),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Session:
    """What was read of the bow on one day.

    Attributes
    ----------
    date : date or None
        None where the file has no dates: then it is one session.
    line : int
        Where it begins.
    readings : Readings
    set : float or None, m
        How far the unstrung tips have come towards the archer, mean of both.
    moisture : float or None
        Of the wood, a fraction.
    """

    date: datetime.date | None
    line: int
    readings: Readings
    set: float | None
    moisture: float | None


def read_log(path: str | PathLike[str], setup: BowSetup) -> tuple[Session, ...]:
    """Read a CSV file of readings with a column ``date``, or without one as a single session.

    Parameters
    ----------
    path : path-like
        Columns ``draw_length``, ``draw_force``, ``force_scatter``, ``upper_tip``, ``lower_tip``,
        ``limb``, ``at``, ``position``, ``position_scatter``, each with its unit, and ``date``
        (``2024-03-05``; a row without one goes on with the day above), ``set`` and ``moisture``,
        once a session.
    setup : BowSetup

    Returns
    -------
    tuple of Session
        In the order of their dates; the last holds enough to be fitted.

    Raises
    ------
    CaseError
        Naming the line, for what cannot be read or cannot be of this bow.
    """
    sessions = sessions_of(read_table(Path(path)), setup, str(path))
    try:
        check_enough(sessions[-1].readings)
    except CaseError as error:
        raise CaseError(_of_last(str(error), sessions)) from None
    return sessions


def sessions_of(rows: Sequence[Row], setup: BowSetup, file: str) -> tuple[Session, ...]:
    """Return the sessions in some rows, however little the last of them holds.

    Raises
    ------
    CaseError
        Naming the line, for what cannot be read or cannot be of this bow.
    """
    sessions = []
    for date, own in days_of(rows):
        sessions.append(
            Session(
                date=date,
                line=own[0].line,
                readings=readings_of(own, setup, file),
                set=_once(own, "set", -MOST_SET, MOST_SET),
                moisture=_once(own, "moisture", 0.0, MOST_MOISTURE),
            )
        )
    if len(sessions) > MOST_SESSIONS:
        raise CaseError(f"{file}: holds {len(sessions)} sessions; at most {MOST_SESSIONS} are read")
    return tuple(sessions)


def _of_last(reason: str, sessions: Sequence[Session]) -> str:
    """Say of which session readings are missing."""
    if len(sessions) == 1:
        return reason
    return f"{reason} (in the last session, {sessions[-1].date}; earlier ones may hold less)"


def days_of(rows: Sequence[Row]) -> list[tuple[datetime.date | None, list[Row]]]:
    """Return the rows of every day; one of no date where the table has none.

    Raises
    ------
    CaseError
        If dates cannot be read, go backwards, or only begin below the first row.
    """
    dated = any("date" in row.words for row in rows)
    days: list[tuple[datetime.date | None, list[Row]]] = []
    for row in rows:
        date = _date(row) if "date" in row.words else None
        if dated and not days and date is None:
            raise CaseError(
                f"{row.file}: line {row.line}: has no date; the first row needs one, such as "
                "2024-03-05, and rows below it without one belong to the same day"
            )
        if not days or (date is not None and date != days[-1][0]):
            if days and date is not None and days[-1][0] is not None and date < days[-1][0]:
                raise CaseError(
                    f"{row.where('date')}: is earlier than the day above it; sort the sessions by "
                    "date: is a digit wrong?"
                )
            days.append((date, []))
        days[-1][1].append(row)
    return days


def _date(row: Row) -> datetime.date:
    word = row.words["date"]
    for pattern, _ in _DATES:
        found = pattern.fullmatch(word)
        if found is None:
            continue
        try:
            date = datetime.date(*(int(found[part]) for part in "ymd"))
        except ValueError:
            raise CaseError(f"{row.where('date')}: there is no such day") from None
        if not 1900 <= date.year <= 2200:
            raise CaseError(f"{row.where('date')}: is the year right?")
        return date
    raise CaseError(
        f"{row.where('date')}: is no date that reads one way only; write year, month, day, such as "
        "2024-03-05"
    )


def _once(rows: Sequence[Row], name: str, least: float, most: float) -> float | None:
    """Return a figure of the session, None where it was not read."""
    found: float | None = None
    for row in rows:
        value = row.number(name)
        if value is None:
            continue
        if not least <= value <= most:
            limits = (
                f"{both_lengths(most)} at most" if name == "set" else f"between 0 and {most:.0%}"
            )
            raise CaseError(f"{row.where(name)}: must be {limits}; is the unit right?")
        if found is not None and abs(value - found) > 1e-9:
            raise CaseError(
                f"{row.where(name)}: another {name} stands above it on the same day; keep one a "
                "session"
            )
        found = value
    return found
