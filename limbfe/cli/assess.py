"""Command ``assess``: every part of the bow is judged."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.cli.common import Commands, add_command, add_tables, progress, show
from limbfe.errors import CaseError


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "assess", "brace and draw the bow and judge every part of it")
    parser.add_argument("case", nargs="+", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--out", type=Path, metavar="DIR", help="also write results.json, limb.vtu and pictures"
    )
    parser.add_argument("--no-pictures", action="store_true", help="with --out: leave them out")
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Assess every case: tables or JSON on stdout, files where asked."""
    from limbfe.api import assess as assess_case
    from limbfe.api import read_case
    from limbfe.report.files import prepare_folder, write_files
    from limbfe.report.tables import assessment_tables
    from limbfe.units import unit_system

    cases = [read_case(path) for path in options.case]
    folders = _folders(options)
    for folder in folders:
        prepare_folder(folder)
    units = unit_system(options.units)
    for position, case in enumerate(cases):
        with progress(options) as say:
            say(f"{case.title}: sections, brace, draw, defects")
            assessment = assess_case(case)
            written = []
            if folders:
                written = write_files(
                    assessment,
                    folders[position],
                    pictures=not options.no_pictures,
                    units=units,
                    say=say,
                )
        if options.json:
            print(json.dumps(assessment.to_dict()))
        else:
            show(assessment_tables(assessment, units))
            for path in written:
                print(f"wrote {path}")


def _folders(options: argparse.Namespace) -> list[Path]:
    """Return one folder a case: --out itself for one case, subfolders of it for several."""
    if options.out is None:
        return []
    if len(options.case) == 1:
        return [options.out]
    names = [path.stem for path in options.case]
    if len(set(names)) < len(names):
        raise CaseError(
            "--out: two of the cases have the same file name; assess them one at a time"
        )
    return [options.out / name for name in names]
