"""Command ``shave``: where a shaving changes what."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.case.values import quantity
from limbfe.cli.common import (
    Commands,
    add_command,
    add_tables,
    draw_weight,
    progress,
    show,
)
from limbfe.errors import CaseError


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(
        commands, "shave", "see what a shaving at each station changes: weight, strength, tiller"
    )
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--off-belly",
        metavar="LENGTH",
        help="shaving off the belly (default: 0.5 mm or 1/64 in)",
    )
    parser.add_argument(
        "--off-width",
        metavar="LENGTH",
        help="shaving off the width, half on each side (default: 1 mm or 1/32 in)",
    )
    parser.add_argument(
        "--to-weight",
        metavar="FORCE",
        help='also say where to take wood next to come to this draw weight, such as "45 lbf"',
    )
    parser.add_argument(
        "--step",
        metavar="LENGTH",
        help="with --to-weight: what the tool takes off at once (default: 0.5 mm or 1/64 in)",
    )
    parser.add_argument(
        "--readings",
        type=Path,
        metavar="FILE",
        help="with --to-weight: the bow as readings on the tiller say it is, see limbfe fit",
    )
    parser.add_argument("--png", type=Path, metavar="FILE", help="write its picture")
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Map one bow: tables or JSON on stdout, a picture where asked."""
    from limbfe.api import read_case, shave, solve
    from limbfe.report.shave import shave_tables
    from limbfe.units import unit_system

    # what a table names must be what was taken off: 1/64 in is a fifth less than 0.5 mm
    imperial = options.units == "imperial"
    off_belly = _size("--off-belly", options.off_belly or ("1/64 in" if imperial else "0.5 mm"))
    off_width = _size("--off-width", options.off_width or ("1/32 in" if imperial else "1 mm"))
    weight, step = draw_weight(options, "--to-weight", options.to_weight), _step(options)
    case = read_case(options.case)
    with progress(options) as say:
        say("sections, brace, draw")
        solved = solve(case, beyond=False)
        say("derivatives by thickness and width at every station")
        shaves = shave(solved, off_belly=off_belly, off_width=off_width)
        if options.png is not None:
            from limbfe.view.study.shave import write_shave

            write_shave(shaves, options.png, units=options.units)
        taking = None
        if weight is not None:
            from limbfe.api import take_wood

            taking = take_wood(case, weight, step=step, readings=options.readings, tell=say)
    if options.json:
        told = shaves.to_dict()
        print(json.dumps(told if taking is None else told | {"take": taking.to_dict()}))
        return
    show(shave_tables(shaves, unit_system(options.units)))
    if taking is not None:
        from limbfe.report.take import take_text

        show(take_text(taking, unit_system(options.units)))
    if options.png is not None:
        print(f"wrote {options.png}")


def _step(options: argparse.Namespace) -> float:
    """Return what the tool takes off at once, m."""
    for name in ("step", "readings"):
        if options.to_weight is None and getattr(options, name) is not None:
            raise CaseError(f"--{name}: goes with --to-weight, the draw weight you want")
    if options.step is None:
        return 0.0254 / 64.0 if options.units == "imperial" else 5e-4
    return _size("--step", options.step)


def _size(option: str, text: str) -> float:
    from limbfe.analysis.rates.shave import LARGEST

    size = quantity(option, text, "length")
    if size is None or not 0.0 < size <= LARGEST:
        raise CaseError(f'{option} "{text}": must lie above 0 and up to 3 mm')
    return size
