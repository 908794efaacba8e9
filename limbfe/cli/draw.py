"""Command ``draw``: forces, energy, shape, and how far the bow can be drawn."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.case.values import draw_length
from limbfe.cli.common import Commands, add_assumptions, add_command, add_tables, progress, show

ON = ""
"""What ``--to`` holds when it is given without a length."""


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "draw", "brace and draw the bow: forces, energy, shape")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--to",
        nargs="?",
        const=ON,
        metavar="LENGTH",
        help='draw to this length instead of the case\'s, such as "30 in"; without a length, on '
        "until clear wood yields and breaks or the bow gives way",
    )
    add_assumptions(parser)
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Brace and draw one case."""
    from limbfe.api import draw, draw_limits, read_case, solve
    from limbfe.report.draw import draw_tables
    from limbfe.units import unit_system

    length = draw_length("--to", options.to or None)
    case = read_case(options.case)
    limits = None
    with progress(options) as say:
        say("sections, brace, draw")
        solved = solve(case, length, beyond=False)
        bow = draw(solved)
        if options.to == ON:
            say("drawing on until it yields or fails")
            limits = draw_limits(solved)
    if options.json:
        extra = {} if limits is None else {"limits": limits.to_dict()}
        print(json.dumps({**bow.to_dict(), **extra}))
        return
    units = unit_system(options.units)
    show(draw_tables(bow, units, assumptions=options.assumptions, limits=limits))
