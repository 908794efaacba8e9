"""Command ``pull``: the unbraced bow on a long string, and what it takes to string it."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.case.values import above_zero
from limbfe.cli.common import Commands, add_command, add_tables, draw_weight, progress, show
from limbfe.errors import CaseError


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "pull", "pull the unbraced bow on a long string, or string it")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--string-length",
        metavar="LENGTH",
        help='pull a string of this length between the nocks, such as "1.9 m", on a cradle',
    )
    parser.add_argument("--force", metavar="FORCE", help='pull to this force, such as "60 lbf"')
    parser.add_argument(
        "--tip-movement", metavar="LENGTH", help='or until the tips have moved, such as "120 mm"'
    )
    parser.add_argument(
        "--string",
        action="store_true",
        help="what it takes to string the bow, and how low and high it can be braced",
    )
    parser.add_argument(
        "--brace-height", metavar="LENGTH", help="with --string: instead of the case's"
    )
    parser.add_argument("--png", type=Path, metavar="FILE", help="write its picture")
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Pull one bow on a long string, or string it."""
    if options.string or options.brace_height is not None:
        _string(options)
        return
    from limbfe.api import pull, read_case
    from limbfe.report.pull import pull_tables
    from limbfe.units import unit_system

    length = above_zero("--string-length", options.string_length, "length")
    force = draw_weight(options, "--force", options.force)
    movement = above_zero("--tip-movement", options.tip_movement, "length")
    if length is None or (force is None) == (movement is None):
        raise CaseError(
            "pull: give --string-length and one of --force and --tip-movement, or --string"
        )
    with progress(options) as say:
        say("sections, pull")
        case = read_case(options.case)
        pulled = pull(case, length, force=force, tip_movement=movement)
        if options.png is not None:
            from limbfe.view.study.pull import write_pull

            say(f"drawing {options.png}")
            write_pull(pulled, options.png, case.title, units=options.units)
    if options.json:
        print(json.dumps(pulled.to_dict()))
    else:
        show(pull_tables(pulled, unit_system(options.units)))
        if options.png is not None:
            print(f"wrote {options.png}")


def _string(options: argparse.Namespace) -> None:
    """Say what it takes to string one bow."""
    from limbfe.api import read_case, string_on
    from limbfe.report.stringing import stringing_tables
    from limbfe.units import unit_system

    if not options.string:
        raise CaseError("pull: --brace-height goes with --string")
    pulling = (options.string_length, options.force, options.tip_movement, options.png)
    if any(one is not None for one in pulling):
        raise CaseError(
            "pull: --string strings the bow; --string-length, --force, --tip-movement and --png "
            "pull it on a long string: give either"
        )
    height = above_zero("--brace-height", options.brace_height, "length")
    with progress(options) as say:
        say("sections, bracing low and high")
        case = read_case(options.case)
        strung = string_on(case, height)
    if options.json:
        print(json.dumps(strung.to_dict()))
    else:
        show(stringing_tables(strung, unit_system(options.units)))
