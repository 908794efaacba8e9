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
    from limbfe.analysis.assess import look_at_defect
    from limbfe.analysis.solve import solve_bow
    from limbfe.api import read_case
    from limbfe.case.build import build_setup
    from limbfe.report.defect import defect_dict, defect_tables
    from limbfe.units import unit_system

    setup = build_setup(read_case(options.case))
    with progress(options) as say:
        say("sections, brace, draw, local model")
        result, local = look_at_defect(solve_bow(setup), options.name)
        if options.png is not None:
            from limbfe.view.close_up import close_up
            from limbfe.view.defect import write_defect

            write_defect(close_up(result, local), options.png, units=options.units)
    if options.json:
        print(json.dumps(defect_dict(result, local.outcome)))
    else:
        show(defect_tables(result, local.outcome, unit_system(options.units)))
        if options.png is not None:
            print(f"wrote {options.png}")
