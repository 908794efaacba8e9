"""What the commands share: options, quantities, progress, tables on the terminal."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from limbfe.errors import CaseError

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.live import Live

    from limbfe.units import UnitSystem, Words

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


def add_assumptions(parser: argparse.ArgumentParser) -> None:
    """Declare the option that prints what a case left open."""
    parser.add_argument(
        "--assumptions",
        action="store_true",
        help="also print every value that the case does not give, and where it is from",
    )


def add_cluster(parser: argparse.ArgumentParser) -> None:
    """Declare the option that sends a study's computations to a cluster."""
    parser.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="compute on the workers of this dask scheduler, such as tcp://node1:8786",
    )


def add_units(parser: argparse.ArgumentParser) -> None:
    """Declare the option for the reader's units."""
    parser.add_argument(
        "--units",
        choices=("metric", "imperial"),
        help="units of tables and pictures (default: those the case is written in)",
    )


def console(*, stderr: bool = False, width: int | None = None) -> Console:
    """Return a terminal on which the user's own words are words: no markup, no emoji."""
    from rich.console import Console

    return Console(stderr=stderr, width=width, markup=False, emoji=False)


class Watching:
    """What somebody who watches is told: what is being done, below what was found so far.

    All of it is wiped off once the work is done, when the tables say it; nobody is told anything
    where there is no status line.
    """

    def __init__(self, screen: Live | None = None, units: UnitSystem | None = None) -> None:
        self._screen, self._units = screen, units
        self._lines: list[str] = []
        self._doing = ""

    def __call__(self, words: Words) -> None:
        """Say what is being done."""
        if self._screen is not None and self._units is not None:
            from limbfe.units import say

            self._doing = say(words, self._units)
            self._show()

    def found(self, line: str) -> None:
        """Keep a line in sight until the work is done."""
        self._lines.append(line)
        self._show()

    def _show(self) -> None:
        if self._screen is not None:
            from rich.text import Text

            self._screen.update(Text("\n  ".join([self._doing, *self._lines])), refresh=True)


@contextmanager
def progress(options: argparse.Namespace) -> Iterator[Watching]:
    """Show on stderr what is being done, but only to a person who is watching.

    That machine code has to be compiled first is said to everybody, except with ``--json``, whose
    caller is a program.
    """
    from limbfe.units import unit_system

    screen = console(stderr=True)
    if getattr(options, "json", False):
        yield Watching()
        return
    with _announced(screen):
        if not screen.is_terminal:
            yield Watching()
            return
        from rich.live import Live

        units = unit_system(getattr(options, "units", None) or "metric")
        # nothing turns: the thread it takes would keep `limbfe.forks` from copying the process
        with Live(console=screen, auto_refresh=False, transient=True) as live:
            yield Watching(live, units)


@contextmanager
def _announced(screen: Console) -> Iterator[None]:
    """Say on `screen` when machine code has to be compiled before anything else happens."""
    from limbfe.compiled import announce_compilation

    with announce_compilation(lambda text: screen.print(text, highlight=False, soft_wrap=True)):
        yield


@contextmanager
def study_progress(options: argparse.Namespace, what: str) -> Iterator[Callable[[int, int], None]]:
    """Show on stderr how far a study has come and how long it still takes.

    Yields what `limbfe.studies.tasks.run.run_tasks` calls after every result.  Only a person who
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


def remark(options: argparse.Namespace, text: str) -> None:
    """Say on stderr what is to stay there; not with ``--json``, whose caller is a program."""
    if not getattr(options, "json", False):
        print(text, file=sys.stderr)


def draw_weight(options: argparse.Namespace, option: str, text: str | None) -> float | None:
    """Return a draw weight in N, None where it was not given; say what pounds are taken for."""
    from limbfe.case.values import above_zero
    from limbfe.units import force_meant

    value = above_zero(option, text, "draw weight")
    meant = None if text is None else force_meant(text)
    if meant:
        remark(options, f'{option} "{text}": taken as {meant}')
    return value


def show(table: RenderableType) -> None:
    """Print tables, as wide as they need when no terminal limits them."""
    screen = console()
    if not screen.is_terminal:
        screen = console(width=120)
    screen.print(table)


def check_folder(folder: Path | None) -> None:
    """Refuse the name of a folder (option ``--out``) that could not be written."""
    if folder is None:
        return
    if folder.exists() and not folder.is_dir():
        raise CaseError(f"--out {folder}: is a file; give the name of a folder")
    parent = folder if folder.exists() else folder.absolute().parent
    if not parent.is_dir():
        raise CaseError(f'--out {folder}: there is no folder "{parent}"; make it first')
