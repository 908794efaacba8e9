"""Command ``section``: one cross-section."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.case.values import quantity
from limbfe.cli.common import Commands, add_command, add_tables, progress, show


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "section", "look at one cross-section: stiffness and centres")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--at", required=True, metavar="LENGTH", help='station from the grip, such as "310 mm"'
    )
    parser.add_argument("--limb", choices=("upper", "lower"), default="upper")
    parser.add_argument("--png", type=Path, metavar="FILE", help="write its picture")
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Show one cross-section."""
    from limbfe.api import assess as assess_case
    from limbfe.api import read_case, section_at
    from limbfe.report.tables import section_table
    from limbfe.units import unit_system

    at = quantity("--at", options.at, "length")
    assert at is not None
    case = read_case(options.case)
    x = at if options.limb == "upper" else -at
    report = section_at(case, x)
    if options.json:
        print(json.dumps(report.to_dict()))
    else:
        show(section_table(report, unit_system(options.units)))
    if options.png is not None:
        from limbfe.analysis.wood.section_field import section_field
        from limbfe.view import theme
        from limbfe.view.section.picture import draw_section

        with progress(options) as say:
            say("sections, brace, draw")
            bow = assess_case(case)
            names = tuple(knot.name for knot in bow.setup.stave.knots)
            section = section_field(bow.setup, bow.limb, x)
            figure = draw_section(section, names, units=options.units)
            written = theme.save_figure(figure, options.png)
        if not options.json:
            print(f"wrote {written}")
