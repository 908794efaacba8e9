"""What each command does."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console, RenderableType

from limbfe.errors import CaseError
from limbfe.units import unit_system
from limbfe.version import __version__


def run(options: argparse.Namespace) -> int:
    """Run the command that `options` name and return the exit code."""
    if options.version:
        print(__version__)
        return 0
    command = COMMANDS.get(options.command)
    if command is None:
        from limbfe.cli.parser import build_parser

        build_parser().print_help()
        return 0
    command(options)
    return 0


def assess(options: argparse.Namespace) -> None:
    """Assess every case: tables or JSON on stdout, files where asked."""
    from limbfe.api import assess as assess_case
    from limbfe.api import read_case
    from limbfe.report.files import prepare_folder, write_files
    from limbfe.report.tables import assessment_tables

    cases = [read_case(path) for path in options.case]
    folders = _folders(options)
    for folder in folders:
        prepare_folder(folder)
    units = unit_system(options.units)
    for position, case in enumerate(cases):
        with progress(options) as say:
            say(f"{case.title}: sections, brace, draw, defects")
            assessment = assess_case(case)
            written = []
            if folders:
                written = write_files(
                    assessment,
                    folders[position],
                    pictures=not options.no_pictures,
                    units=units,
                    say=say,
                )
        if options.json:
            print(json.dumps(assessment.to_dict()))
        else:
            show(assessment_tables(assessment, units))
            for path in written:
                print(f"wrote {path}")


def draw(options: argparse.Namespace) -> None:
    """Brace and draw one case."""
    from limbfe.api import draw as draw_case
    from limbfe.api import read_case
    from limbfe.report.tables import draw_tables

    with progress(options) as say:
        say("sections, brace, draw")
        bow = draw_case(read_case(options.case))
    if options.json:
        print(json.dumps(bow.to_dict()))
    else:
        show(draw_tables(bow, unit_system(options.units)))


@contextmanager
def progress(options: argparse.Namespace) -> Iterator[Callable[[str], None]]:
    """Show on stderr what is being done, but only to a person who is watching."""
    console = Console(stderr=True)
    if options.json or not console.is_terminal:
        yield lambda text: _plain(options, text)
        return
    with console.status("reading") as status:
        yield lambda text: _live(console, status.update, text)


def _plain(options: argparse.Namespace, text: str) -> None:
    if text.startswith("left out") and not options.json:
        print(text, file=sys.stderr)


def _live(console: Console, update: Callable[[str], None], text: str) -> None:
    if text.startswith("left out"):
        console.print(text)
    else:
        update(text)


def show(table: RenderableType) -> None:
    """Print tables, as wide as they need when no terminal limits them."""
    console = Console()
    if not console.is_terminal:
        console = Console(width=120)
    console.print(table)


def _folders(options: argparse.Namespace) -> list[Path]:
    """Return one folder a case: --out itself for one case, subfolders of it for several."""
    if options.out is None:
        return []
    if len(options.case) == 1:
        return [options.out]
    names = [path.stem for path in options.case]
    if len(set(names)) < len(names):
        raise CaseError(
            "--out: two of the cases have the same file name; assess them one at a time"
        )
    return [options.out / name for name in names]


COMMANDS: dict[str, Callable[[argparse.Namespace], None]] = {"assess": assess, "draw": draw}
