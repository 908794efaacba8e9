"""Command ``rules``: rules of thumb, each tried on many bows."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from limbfe.cli.common import Commands, add_cluster, add_command, add_tables, show, study_progress
from limbfe.errors import CaseError


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "rules", "try rules of thumb on many different bows")
    parser.add_argument("names", nargs="*", metavar="NAME", help="of the rules (default: all)")
    parser.add_argument("--list", action="store_true", help="list the rules and stop")
    parser.add_argument("--bows", type=int, metavar="N", help="how many bows (default: 30)")
    parser.add_argument(
        "--quick", action="store_true", help="a first look on a few bows, within a minute or so"
    )
    parser.add_argument(
        "--out",
        type=Path,
        metavar="DIR",
        help="write results as they come, JSON and pictures; a stopped study goes on there",
    )
    parser.add_argument("--workers", type=int, metavar="N", help="processes (default: one a core)")
    add_cluster(parser)
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """List rules, or try them: tables or JSON on stdout, files where asked."""
    for name in ("bows", "workers"):
        count = getattr(options, name)
        if count is not None and count < 1:
            raise CaseError(f"--{name} {count}: must be at least 1")
    if options.quick and options.bows is not None:
        raise CaseError("--quick and --bows: both say how many bows; give one of them")
    from limbfe.api import rules as try_rules
    from limbfe.report.rules import list_table, rules_tables, write_rules
    from limbfe.studies.rules.study import DEFAULT_BOWS, QUICK_BOWS, find_rules
    from limbfe.units import unit_system

    rules, units = find_rules(options.names), unit_system(options.units)
    if options.list:
        if options.json:
            print(json.dumps({"rules": [rule.to_dict() for rule in rules]}))
        else:
            show(list_table(rules, units))
        return
    if options.out is not None:
        from limbfe.report.files import prepare_folder

        prepare_folder(options.out)
    bows = options.bows or (QUICK_BOWS if options.quick else DEFAULT_BOWS)
    try:
        with study_progress(options, f"{len(rules)} rules, {bows} bows") as tell:
            study = try_rules(
                options.names,
                bows=bows,
                workers=options.workers,
                cluster=options.cluster,
                journal=None if options.out is None else options.out / "rules.jsonl",
                tell=tell,
            )
    except KeyboardInterrupt:
        if options.out is not None:
            print(f"limbfe: run it again with --out {options.out} to go on", file=sys.stderr)
        raise
    written = [] if options.out is None else write_rules(study, options.out, units)
    if options.json:
        print(json.dumps(study.to_dict()))
        return
    show(rules_tables(study, units))
    for path in written:
        print(f"wrote {path}")
