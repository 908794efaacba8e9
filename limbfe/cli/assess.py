"""Command ``assess``: every part of the bow is judged."""

from __future__ import annotations

import argparse
import json
from functools import partial
from pathlib import Path

from limbfe.cli.common import (
    Commands,
    add_assumptions,
    add_command,
    add_tables,
    progress,
    remark,
    show,
)
from limbfe.errors import CaseError


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "assess", "brace and draw the bow and judge every part of it")
    parser.add_argument("case", nargs="+", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--out",
        type=Path,
        metavar="DIR",
        help="also write report.html, results.json, limb.vtu and pictures",
    )
    parser.add_argument(
        "--no-pictures", action="store_true", help="with --out: without report and pictures"
    )
    parser.add_argument(
        "--series",
        action="store_true",
        help="with --out: also draw.pvd, every step of the draw for other viewers (some 20 MB)",
    )
    parser.add_argument(
        "--every", action="store_true", help="print every table and all cautions in full"
    )
    add_assumptions(parser)
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Assess every case: tables or JSON on stdout, files where asked."""
    from limbfe.api import assess, read_case, solve
    from limbfe.report.assess import assessment_tables
    from limbfe.report.files import Wanted, prepare_folder, write_files
    from limbfe.report.findings import finding_line
    from limbfe.units import unit_system

    if options.out is None and (options.series or options.no_pictures):
        word = "--series" if options.series else "--no-pictures"
        raise CaseError(f"{word}: says what goes into --out, which is not given; add --out DIR")
    cases = [read_case(path) for path in options.case]
    folders = _folders(options)
    for folder in folders:
        prepare_folder(folder)
    units = unit_system(options.units)
    found = []
    for position, case in enumerate(cases):
        with progress(options) as say:
            say(f"{case.title}: sections, brace, draw, defects")
            solved = solve(case)
            assessment = assess(
                solved, tell=say, found=lambda one: say.found(finding_line(one, units))
            )
            written = []
            if folders:
                series = solved if options.series else None
                written = write_files(
                    assessment,
                    folders[position],
                    wanted=Wanted(pictures=not options.no_pictures, series=series),
                    units=units,
                    say=say,
                    remark=partial(remark, options),
                )
        if options.json:
            found.append(assessment.to_dict())
        else:
            show(
                assessment_tables(
                    assessment, units, every=options.every, assumptions=options.assumptions
                )
            )
            for path in written:
                print(f"wrote {path}")
    if options.json:
        print(json.dumps(found[0] if len(found) == 1 else {"assessments": found}))


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
