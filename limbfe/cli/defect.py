"""Command ``defect``: one knot or patch."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.cli.common import Commands, add_command, add_tables, progress, show


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "defect", "look at one knot or decay and the wood around it")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument("name", metavar="NAME", help="its name in the case file")
    parser.add_argument("--png", type=Path, metavar="FILE", help="write its picture")
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Show one knot or patch: verdict, numbers by depth, picture."""
    from limbfe.api import judge_zone, read_case
    from limbfe.report.defect import defect_tables
    from limbfe.units import unit_system

    case = read_case(options.case)
    with progress(options) as say:
        say("sections, brace, draw, local model")
        zone = judge_zone(case, options.name)
        if options.png is not None:
            from limbfe.analysis.zones.close_up import close_up
            from limbfe.view.zone.picture import write_defect

            assert zone.local is not None
            view = close_up(zone.result, zone.local)
            write_defect(view, options.png, units=options.units)
    if options.json:
        print(json.dumps(zone.to_dict()))
    else:
        show(defect_tables(zone, unit_system(options.units)))
        if options.png is not None:
            print(f"wrote {options.png}")
