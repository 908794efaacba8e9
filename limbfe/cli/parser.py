"""What the commands accept."""

from __future__ import annotations

import argparse

from limbfe.cli import (
    assess,
    chance,
    compare,
    defect,
    draw,
    fit,
    lay,
    pull,
    rules,
    sample,
    section,
    shave,
    sheet,
    shoot,
    show,
    size,
    sweep,
    woods,
)
from limbfe.cli.arguments import Parser

COMMANDS = (
    sheet,
    assess,
    draw,
    shoot,
    shave,
    defect,
    chance,
    sweep,
    lay,
    size,
    compare,
    rules,
    fit,
    pull,
    show,
    section,
    woods,
    sample,
)
"""In the order of the help; each declares itself with `add` and is run by `run`."""

EPILOG = """\
A bow that breaks hurts people: every figure is an estimate.  Wear eye
protection, keep everyone out of line, never dry-fire, and never draw past what
the bow has been exercised to.
"""


def build_parser() -> Parser:
    """Return the parser of the whole command line."""
    parser = Parser(
        prog="limbfe",
        description="Compute how a wooden bow limb bends, where it is worked hardest and what its\n"
        "knots and decay will do.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="store_true", help="print the version and stop")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    for command in COMMANDS:
        command.add(commands)
    for name, one in commands.choices.items():
        if name not in ("rules", "woods", "sample"):
            one.add_argument(
                "--allow-large",
                action="store_true",
                help="take cases that need more than 1 GB of memory, or hours",
            )
    return parser
