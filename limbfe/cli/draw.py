"""Command ``draw``: forces, energy, shape."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.cli.common import Commands, add_command, add_tables, progress, show


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "draw", "brace and draw the bow: forces, energy, shape")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Brace and draw one case."""
    from limbfe.api import draw as draw_case
    from limbfe.api import read_case
    from limbfe.report.tables import draw_tables
    from limbfe.units import unit_system

    with progress(options) as say:
        say("sections, brace, draw")
        bow = draw_case(read_case(options.case))
    if options.json:
        print(json.dumps(bow.to_dict()))
    else:
        show(draw_tables(bow, unit_system(options.units)))
