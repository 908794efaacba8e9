"""What the commands share: options, quantities, progress, tables on the terminal."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeAlias

from limbfe.errors import CaseError

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from limbfe.units import Kind

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def add_command(commands: Commands, name: str, text: str) -> argparse.ArgumentParser:
    """Declare one command; `text` describes it in the list and in its own help."""
    return commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")


def add_tables(parser: argparse.ArgumentParser) -> None:
    """Declare the options of every command that prints tables."""
    parser.add_argument("--json", action="store_true", help="print one JSON object, nothing else")
    parser.add_argument(
        "--units",
        choices=("metric", "imperial"),
        default="metric",
        help="units of the tables (default: metric)",
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


@contextmanager
def progress(options: argparse.Namespace) -> Iterator[Callable[[str], None]]:
    """Show on stderr what is being done, but only to a person who is watching."""
    from rich.console import Console

    console = Console(stderr=True)
    if getattr(options, "json", False) or not console.is_terminal:
        yield lambda text: _plain(options, text)
        return
    with console.status("reading") as status:
        yield lambda text: _live(console, status.update, text)


def _plain(options: argparse.Namespace, text: str) -> None:
    if text.startswith("left out") and not getattr(options, "json", False):
        print(text, file=sys.stderr)


def _live(console: Console, update: Callable[[str], None], text: str) -> None:
    if text.startswith("left out"):
        console.print(text)
    else:
        update(text)


def show(table: RenderableType) -> None:
    """Print tables, as wide as they need when no terminal limits them."""
    from rich.console import Console

    console = Console()
    if not console.is_terminal:
        console = Console(width=120)
    console.print(table)
