"""How a place and a value of the case file are named in a message."""

from __future__ import annotations

import datetime
import difflib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from limbfe.errors import CaseError, Fault

Loc = tuple[str | int, ...]
TABLES = (
    *("wood", "grain", "section", "limb", "taper", "grip", "string", "draw", "analysis"),
    *("stave", "bow", "spare", "fix"),
)
REPEATED = ("knot", "decay", "check", "cut")
MOST_NAMED = 4
"""Other places to put right that one message names."""


def heading(name: str) -> str:
    """Return a table's name as it stands above it in the file."""
    return f"[[{name}]]" if name in REPEATED else f"[{name}]"


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong at one place of the file.

    `reason` says what is allowed and what to do; `missing` that it is only not there yet.
    """

    loc: Loc
    reason: str
    missing: bool = False


def first_found(checks: Iterable[Iterable[Problem]]) -> Iterator[Problem]:
    """Yield what the first check finds that finds anything: later ones rely on those before."""
    for check in checks:
        found = list(check)
        yield from found
        if found:
            return


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CaseText:
    """What the user wrote, to be quoted in messages.

    Attributes
    ----------
    file : str
        Name of the case file as it was given.
    raw : mapping
        The TOML document, with the columns of CSV tables filled in.
    columns_from : mapping of (limb, column) to (str, tuple of int)
        Name of the CSV file a column came from, and the line of each value.
    """

    file: str
    raw: Mapping[str, Any]
    columns_from: Mapping[tuple[str, str], tuple[str, tuple[int, ...]]] = field(
        default_factory=dict
    )

    def value(self, loc: Loc) -> Any:
        """Return what stands at `loc`, or None."""
        at: Any = self.raw
        for part in loc:
            try:
                at = at[part]
            except (KeyError, IndexError, TypeError):
                return None
        return at

    def name(self, loc: Loc) -> str:
        """Return the words for a place: ``[draw] length``, ``knot "A": diameter``."""
        loc = plain(loc)
        if len(loc) >= 3 and loc[0] == "limb" and (str(loc[1]), str(loc[2])) in self.columns_from:
            table, lines = self.columns_from[str(loc[1]), str(loc[2])]
            line = f"line {lines[int(loc[3])]}: " if len(loc) > 3 else ""
            return f"[limb.{loc[1]}] {table}: {line}{loc[2]}"
        if len(loc) >= 2 and (str(loc[0]), str(loc[1])) in self.columns_from:
            table, lines = self.columns_from[str(loc[0]), str(loc[1])]
            line = f"line {lines[int(loc[2])]}: " if len(loc) > 2 else ""
            return f"[{loc[0]}] {table}: {line}{loc[1]}"
        if len(loc) >= 2 and loc[0] in REPEATED:
            given = self.value((*loc[:2], "name"))
            label = f'"{given}"' if isinstance(given, str) and given else f"{int(loc[1]) + 1}"
            head = f"{loc[0]} {shorten(label)}"
            return f"{head}: {_dotted(loc[2:])}" if len(loc) > 2 else head
        depth = 2 if loc and loc[0] in ("wood", "limb") else 1
        if len(loc) <= depth:
            inside = len(loc) > 1 or loc[:1] in [(table,) for table in TABLES]
            inside = inside or isinstance(self.value(loc), dict)
            return f"[{_dotted(loc)}]" if inside else _dotted(loc)
        return f"[{_dotted(loc[:depth])}] {_dotted(loc[depth:])}"

    def refusal(self, problem: Problem, others: Sequence[Problem] = ()) -> CaseError:
        """Return the error for `problem`, naming the places of `others`."""
        value = self.value(plain(problem.loc))
        shown = "" if value is None or isinstance(value, dict) else f" = {show(value)}"
        message = f"{self.file}: {self.name(problem.loc)}{shown}: {problem.reason}"
        if others:
            places = list(dict.fromkeys(plain(one.loc) for one in others))
            more = f" and {len(places) - MOST_NAMED} more" if len(places) > MOST_NAMED else ""
            named = "; ".join(self.name(place) for place in places[:MOST_NAMED])
            message += f" (to put right besides: {named}{more})"
        faults = (
            Fault(loc=plain(one.loc), words=one.reason, missing=one.missing)
            for one in (problem, *others)
        )
        return CaseError(message, faults=tuple(faults))


def refuse(text: CaseText, problems: Iterable[Problem]) -> None:
    """Raise the first of `problems`, if there is one.

    Raises
    ------
    CaseError
    """
    found = list(problems)
    if found:
        raise text.refusal(found[0], found[1:])


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the word of `known` spelt most like `word`, or None."""
    folded = {name.lower(): name for name in known}
    close = difflib.get_close_matches(word.lower(), folded, n=1, cutoff=0.6)
    return folded[close[0]] if close else None


def show(value: Any) -> str:
    """Return a value as it stands in a case file, cut short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return shorten(f'"{value}"')
    if isinstance(value, int) and abs(value) > 10**18:
        return "a very large number"
    if isinstance(value, int | float):
        return f"{value:.12g}"
    if isinstance(value, list):
        inside = ", ".join(show(item) for item in value[:6])
        return f"[{inside}, ...]" if len(value) > 6 else f"[{inside}]"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, datetime.date | datetime.time):
        return shorten(value.isoformat())
    return shorten(str(value))


def shorten(text: str) -> str:
    """Return a user's text fit for one line: printable, at most about 60 characters."""
    clean = "".join(c if c.isprintable() else "?" for c in text[:200])
    return clean if len(clean) <= 60 else f'{clean[:56]}..."'


def plain(loc: Sequence[str | int]) -> Loc:
    """Return `loc` without pydantic's marks for unions and keys."""
    return tuple(
        part
        for part in loc
        if isinstance(part, int) or not (part == "[key]" or part in ("<word>", "<table>"))
    )


def _dotted(loc: Loc) -> str:
    words = ""
    for part in loc:
        if isinstance(part, int):
            words += f", value {part + 1}"
        else:
            words += f".{shorten(part)}" if words else shorten(part)
    return words
