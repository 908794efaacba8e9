"""Command ``draw``: forces, energy, shape, and how far the bow can be drawn."""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path

from limbfe.cli.common import Commands, add_command, add_tables, draw_length, progress, show

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
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Brace and draw one case."""
    from limbfe.analysis.solve import solve_bow
    from limbfe.analysis.warned_draw import warned_draw
    from limbfe.api import read_case
    from limbfe.case.build import build_setup
    from limbfe.report.tables import draw_tables
    from limbfe.units import unit_system

    length = draw_length("--to", options.to or None)
    setup = build_setup(read_case(options.case))
    if length is not None:
        setup = replace(setup, draw_length=length)
    limits = None
    with progress(options) as say:
        say("sections, brace, draw")
        solved = solve_bow(setup, beyond=False)
        bow = warned_draw(solved)
        if options.to == ON:
            from limbfe.analysis.limits import draw_limits

            say("drawing on until it yields or fails")
            limits = draw_limits(solved)
    if options.json:
        extra = {} if limits is None else {"limits": limits.to_dict()}
        print(json.dumps({**bow.to_dict(), **extra}))
        return
    units = unit_system(options.units)
    if limits is not None:
        from limbfe.report.limits import limits_table

        show(limits_table(limits, units))
    show(draw_tables(bow, units))
