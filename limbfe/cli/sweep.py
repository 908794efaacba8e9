"""Command ``sweep``: strength used of one knot or patch over sizes, places and draw lengths."""

from __future__ import annotations

import argparse
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING

from limbfe.case.values import span
from limbfe.cli.common import Commands, add_cluster, add_command, add_tables, progress, show
from limbfe.errors import CaseError

if TYPE_CHECKING:
    from limbfe.case.schema import Case

RANGES = {
    "diameter": "of a knot, such as 4:20:2 (in the units of the tables); a given far diameter "
    "keeps its ratio",
    "length": "of decay, along the limb",
    "width": "of decay, across the limb",
    "depth": "of decay, below its face",
    "across": "place from the middle line of its face, such as -10:10:5 (mm)",
    "draw": 'draw length, such as "24:30:1 in"',
}


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(
        commands, "sweep", "judge one knot or decay over a range of sizes, places or draw lengths"
    )
    # argparse takes -10:10:5 for an option unless it looks like a negative number to it.
    parser._negative_number_matcher = re.compile(r"-[\d.]")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument("name", nargs="?", metavar="NAME", help="of the knot or decay")
    for name, text in RANGES.items():
        parser.add_argument(f"--{name}", metavar="START:STOP:STEP", help=text)
    parser.add_argument(
        "--moisture",
        metavar="START:STOP:STEP",
        help="the whole bow over the moisture of its wood instead, such as 6:14:1 (%%); no NAME",
    )
    parser.add_argument("--png", type=Path, metavar="FILE", help="write its picture")
    parser.add_argument("--csv", type=Path, metavar="FILE", help="write the table as CSV")
    parser.add_argument("--workers", type=int, metavar="N", help="processes (default: one a core)")
    add_cluster(parser)
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Sweep one knot or patch: table, picture, CSV, JSON."""
    from limbfe.api import read_case, sweep_zone
    from limbfe.report.sweep import sweep_picture, sweep_tables, write_csv
    from limbfe.units import unit_system

    if options.moisture is not None:
        _sweep_moisture(options)
        return
    case = read_case(options.case)
    ranges = _ranges(options, case)
    if options.name is None:
        raise CaseError(f"sweep: which knot or decay? write its NAME after {options.case}")
    with progress(options) as say:
        say("sections, brace, draw")
        sweep = sweep_zone(
            case,
            options.name,
            ranges,
            workers=options.workers,
            cluster=options.cluster,
            tell=lambda done, count: say(f"local models: {done} of {count}"),
        )
        written = []
        if options.csv is not None:
            written.append(write_csv(sweep, options.csv))
        if options.png is not None:
            from limbfe.view.study.sweep import write_sweep

            written.append(write_sweep(sweep_picture(sweep), options.png, units=options.units))
    if options.json:
        print(json.dumps(sweep.to_dict()))
    else:
        show(sweep_tables(sweep, unit_system(options.units)))
        for path in written:
            print(f"wrote {path}")


def _sweep_moisture(options: argparse.Namespace) -> None:
    from limbfe.api import read_case, sweep_moisture
    from limbfe.report.moisture import moisture_picture, moisture_table, write_moisture_csv
    from limbfe.units import unit_system

    others = [f"--{name}" for name in RANGES if getattr(options, name) is not None]
    if options.name is not None or others:
        raise CaseError(
            f"--moisture: sweeps the whole bow; leave out {', '.join([*others, *_named(options)])}"
        )
    _check_workers(options)
    case = read_case(options.case)
    values = span("--moisture", options.moisture, "fraction", "%")
    with progress(options) as say:
        sweep = sweep_moisture(
            case,
            values,
            workers=options.workers,
            cluster=options.cluster,
            tell=lambda done, count: say(f"moisture: {done} of {count}"),
        )
        written = []
        if options.csv is not None:
            written.append(write_moisture_csv(sweep, options.csv))
        if options.png is not None:
            from limbfe.view.study.moisture import write_moisture

            picture = moisture_picture(sweep, case.file.draw.length)
            written.append(write_moisture(picture, options.png, units=options.units))
    if options.json:
        print(json.dumps(sweep.to_dict()))
    else:
        show(moisture_table(sweep, unit_system(options.units)))
        for path in written:
            print(f"wrote {path}")


def _named(options: argparse.Namespace) -> list[str]:
    return [] if options.name is None else [f'the name "{options.name}"']


def _check_workers(options: argparse.Namespace) -> None:
    if options.workers is not None and options.workers < 1:
        raise CaseError(f"--workers {options.workers}: must be at least 1")


def _ranges(options: argparse.Namespace, case: Case) -> dict[str, tuple[float, ...]]:
    _check_workers(options)
    bare = "in" if options.units == "imperial" else "mm"
    default = {"draw": case.file.draw.unit or bare}
    return {
        name: span(f"--{name}", text, "length", default.get(name, bare))
        for name in RANGES
        if (text := getattr(options, name)) is not None
    }
