"""Command ``shave``: where a shaving changes what."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.cli.common import Commands, add_command, add_tables, progress, quantity, show
from limbfe.errors import CaseError

LARGEST = 3e-3
"""Larger shavings (m) are no small changes any more."""


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(
        commands, "shave", "see what a shaving at each station changes: weight, strength, tiller"
    )
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--off-belly",
        default="0.5 mm",
        metavar="LENGTH",
        help="shaving off the belly (default: 0.5 mm)",
    )
    parser.add_argument(
        "--off-width",
        default="1 mm",
        metavar="LENGTH",
        help="shaving off the width, half on each side (default: 1 mm)",
    )
    parser.add_argument("--png", type=Path, metavar="FILE", help="write its picture")
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Map one bow: tables or JSON on stdout, a picture where asked."""
    from limbfe.analysis.shave import shave_map
    from limbfe.analysis.solve import solve_bow
    from limbfe.api import read_case
    from limbfe.case.build import build_setup
    from limbfe.report.shave import shave_tables
    from limbfe.units import unit_system

    off_belly = _size("--off-belly", options.off_belly)
    off_width = _size("--off-width", options.off_width)
    setup = build_setup(read_case(options.case))
    with progress(options) as say:
        say("sections, brace, draw")
        solved = solve_bow(setup, beyond=False)
        say("derivatives by thickness and width at every station")
        found = shave_map(solved, off_belly=off_belly, off_width=off_width)
        if options.png is not None:
            from limbfe.view.shave import write_shave

            write_shave(found, options.png, units=options.units)
    if options.json:
        print(json.dumps(found.to_dict()))
        return
    show(shave_tables(found, unit_system(options.units)))
    if options.png is not None:
        print(f"wrote {options.png}")


def _size(option: str, text: str) -> float:
    size = quantity(option, text, "length")
    if size is None or not 0.0 < size <= LARGEST:
        raise CaseError(f'{option} "{text}": must lie above 0 and up to 3 mm')
    return size
