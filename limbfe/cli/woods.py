"""Command ``woods``: the built-in table of woods."""

from __future__ import annotations

import argparse

from limbfe.cli.common import Commands, add_command, show


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "woods", "list the built-in woods with their sources")
    parser.add_argument("species", nargs="?", help="one wood in full")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """List the built-in woods, or one of them with the source of every figure."""
    from limbfe.report.woods import species_table, wood_table

    show(wood_table(options.species) if options.species else species_table())
