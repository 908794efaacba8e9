"""Command ``woods``: the built-in table of woods."""

from __future__ import annotations

import argparse
import json

from limbfe.cli.common import Commands, add_command, add_units, show
from limbfe.errors import CaseError


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "woods", "list the built-in woods with their sources")
    parser.add_argument("species", nargs="?", metavar="NAME", help="one wood in full")
    parser.add_argument(
        "--bending",
        action="store_true",
        help="bend a standard specimen of every wood: strength simulated beside published",
    )
    parser.add_argument("--json", action="store_true", help="with --bending: one JSON object")
    add_units(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """List the built-in woods, one of them with its sources, or their simulated bending tests."""
    if options.bending:
        _bend(options)
        return
    from limbfe.report.woods import species_table, wood_table
    from limbfe.units import unit_system

    if options.json:
        raise CaseError("woods --json: goes with --bending; the list of woods is a table only")
    units = unit_system(options.units)
    show(wood_table(options.species, units) if options.species else species_table(units))


def _bend(options: argparse.Namespace) -> None:
    from limbfe.report.woods import bending_dict, bending_table
    from limbfe.studies.bending_test import bending_checks
    from limbfe.units import unit_system

    checks = bending_checks(options.species)
    if options.json:
        print(json.dumps(bending_dict(checks)))
    else:
        show(bending_table(checks, unit_system(options.units)))
