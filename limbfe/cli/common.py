"""What the commands share: options, quantities, progress, tables on the terminal."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeAlias

from limbfe.errors import CaseError

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from limbfe.units import Kind

_MEMORY = 600.0
"""Seconds over which the pace of a study is averaged: single results may take a minute."""

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def add_command(commands: Commands, name: str, text: str) -> argparse.ArgumentParser:
    """Declare one command; `text` describes it in the list and in its own help."""
    parser = commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
    parser.set_defaults(parser=parser)
    return parser


def add_tables(parser: argparse.ArgumentParser) -> None:
    """Declare the options of every command that prints tables."""
    parser.add_argument("--json", action="store_true", help="print one JSON object, nothing else")
    add_units(parser)


def add_units(parser: argparse.ArgumentParser) -> None:
    """Declare the option for the reader's units."""
    parser.add_argument(
        "--units",
        choices=("metric", "imperial"),
        default="metric",
        help="units of tables and pictures (default: metric)",
    )


def quantity(option: str, text: str | None, kind: Kind) -> float | None:
    """Return the SI value of an option, None where it was not given."""
    from limbfe.units import UnitError, parse_quantity

    if text is None:
        return None
    try:
        return parse_quantity(text, kind)
    except UnitError as error:
        raise CaseError(f'{option} "{text}": {error}') from error


def above_zero(option: str, text: str | None, kind: Kind) -> float | None:
    """Return the SI value of an option that must be positive, None where it was not given."""
    value = quantity(option, text, kind)
    if value is not None and value <= 0.0:
        raise CaseError(f'{option} "{text}": must be above zero')
    return value


def draw_length(option: str, text: str | None) -> float | None:
    """Return a draw length in SI, None where it was not given; as far as a case may say."""
    from limbfe.case.checks import LONGEST_DRAW, SHORTEST_DRAW

    value = quantity(option, text, "length")
    if value is not None and not SHORTEST_DRAW <= value <= LONGEST_DRAW:
        raise CaseError(
            f'{option} "{text}": must lie between {1e3 * SHORTEST_DRAW:.0f} mm and '
            f"{1e3 * LONGEST_DRAW:.0f} mm; check the number and its unit"
        )
    return value


def console(*, stderr: bool = False, width: int | None = None) -> Console:
    """Return a terminal on which the user's own words are words: no markup, no emoji."""
    from rich.console import Console

    return Console(stderr=stderr, width=width, markup=False, emoji=False)


@contextmanager
def progress(options: argparse.Namespace) -> Iterator[Callable[[str], None]]:
    """Show on stderr what is being done, but only to a person who is watching.

    That machine code has to be compiled first is said to everybody, except with ``--json``, whose
    caller is a program.
    """
    from rich.text import Text

    screen = console(stderr=True)
    if getattr(options, "json", False):
        yield lambda text: None
        return
    with _announced(screen):
        if not screen.is_terminal:
            yield _plain
            return
        with screen.status("reading") as status:
            yield lambda text: _live(screen, lambda line: status.update(Text(line)), text)


@contextmanager
def _announced(screen: Console) -> Iterator[None]:
    """Say on `screen` when machine code has to be compiled before anything else happens."""
    from limbfe.fem.compiled import announce_compilation

    with announce_compilation(lambda text: screen.print(text, highlight=False, soft_wrap=True)):
        yield


@contextmanager
def study_progress(options: argparse.Namespace, what: str) -> Iterator[Callable[[int, int], None]]:
    """Show on stderr how far a study has come and how long it still takes.

    Yields what `limbfe.studies.tasks.run_tasks` calls after every result.  Only a person who
    watches sees the bar.  Not inside `progress`: a terminal has one live line.

    Parameters
    ----------
    options : argparse.Namespace
        With ``json`` there is no bar.
    what : str
        What is being computed, in a few words.
    """
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    screen = console(stderr=True)
    if getattr(options, "json", False) or not screen.is_terminal:
        yield lambda done, total: None
        return
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TextColumn("gone,"),
        TimeRemainingColumn(),
        TextColumn("to go"),
    )
    with Progress(*columns, console=screen, speed_estimate_period=_MEMORY, transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def _plain(text: str) -> None:
    if text.startswith("left out"):
        print(text, file=sys.stderr)


def _live(screen: Console, update: Callable[[str], None], text: str) -> None:
    if text.startswith("left out"):
        screen.print(text)
    else:
        update(text)


def show(table: RenderableType) -> None:
    """Print tables, as wide as they need when no terminal limits them."""
    screen = console()
    if not screen.is_terminal:
        screen = console(width=120)
    screen.print(table)


MOST_VALUES = 200
"""In one range: finer ranges than that are slips of the pen."""


def span(option: str, text: str, kind: Kind, unit: str | None = None) -> tuple[float, ...]:
    """Return the SI values of a range START:STOP:STEP, both ends included.

    Parameters
    ----------
    option : str
        As typed, for messages.
    text : str
        Three numbers and, once at the end, their unit: ``4:20:2``, ``"24:30:1/2 in"``.
    kind : Kind
    unit : str, optional
        Taken where the range has none.

    Raises
    ------
    CaseError
        If it is no range, runs the wrong way, has a step of zero or too many values.
    """
    parts = [part.strip() for part in text.split(":")]
    number = re.fullmatch(r"([-+]?[\d./ ]*[\d.])\s*([^\d.].*)?", parts[-1])
    if len(parts) != 3 or not all(parts) or number is None:
        raise CaseError(
            f'{option} "{text}": is not a range; write START:STOP:STEP, such as 4:20:2, with a '
            "unit at the end if need be"
        )
    sign = number[2] or unit or ""
    start, stop, step = (
        quantity(f'{option} "{text}": its {word}', f"{value} {sign}".strip(), kind) or 0.0
        for word, value in zip(("start", "stop", "step"), (*parts[:2], number[1]), strict=True)
    )
    if step == 0.0 or (stop - start) * step < 0.0:
        way = "has a step of zero" if step == 0.0 else "steps away from its stop"
        raise CaseError(f'{option} "{text}": {way}; write START:STOP:STEP, such as 4:20:2')
    count = int((stop - start) / step + 1e-9) + 1
    if count > MOST_VALUES:
        raise CaseError(
            f'{option} "{text}": has {count} values, at most {MOST_VALUES}; take larger steps'
        )
    return tuple(start + k * step for k in range(count))
