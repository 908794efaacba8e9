"""Command ``sample``: a worked case file to start from."""

from __future__ import annotations

import argparse
from pathlib import Path

from limbfe.cli.common import Commands, add_command, show


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "sample", "write a case or stave file to start from")
    parser.add_argument(
        "name", nargs="?", metavar="NAME", help="which one; all are listed without it"
    )
    parser.add_argument(
        "to", nargs="?", type=Path, metavar="FILE", help="where to; its own name here without it"
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """List what can be written, or write one with the tables it names beside it."""
    from limbfe.case.samples import find_samples, write_sample
    from limbfe.report.samples import samples_table

    if options.name is None:
        show(samples_table(find_samples()))
        return
    for path in write_sample(options.name, options.to):
        print(f"wrote {path}")
