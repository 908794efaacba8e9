"""Command ``compare``: several bows at one draw weight, mass or strain."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.cli.common import (
    Commands,
    add_cluster,
    add_command,
    add_tables,
    draw_weight,
    show,
    study_progress,
)
from limbfe.errors import CaseError


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(
        commands, "compare", "bring several bows to one draw weight, mass or strain and rank them"
    )
    parser.add_argument("cases", type=Path, nargs="+", metavar="CASE", help="case files (TOML)")
    parser.add_argument(
        "--draw-weight", metavar="W", help='bring all to this draw weight, such as "40 lbf"'
    )
    parser.add_argument(
        "--equal",
        choices=("weight", "mass", "strain", "nothing"),
        help="what is made equal, by one factor on the thickness of each: weight (default), mass "
        "or peak strain, at the first bow's; nothing compares them as they stand",
    )
    parser.add_argument("--png", type=Path, metavar="FILE", help="write the picture")
    parser.add_argument("--csv", type=Path, metavar="FILE", help="write the table as CSV")
    parser.add_argument(
        "--keep", type=Path, metavar="FILE", help="keep finished bows there, to go on when stopped"
    )
    parser.add_argument("--workers", type=int, metavar="N", help="processes (default: one a core)")
    add_cluster(parser)
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Compare bows: table, picture, CSV, JSON."""
    from limbfe.api import compare, read_case
    from limbfe.report.compare import compare_picture, compare_tables, write_csv
    from limbfe.units import unit_system

    weight = _weight(options)
    _check_cases(options.cases)
    cases = [read_case(path) for path in options.cases]
    units = unit_system(options.units)
    with study_progress(options, "bows") as tell:
        comparison = compare(
            cases,
            draw_weight=weight,
            equal=options.equal or "weight",
            workers=options.workers,
            cluster=options.cluster,
            journal=options.keep,
            tell=tell,
        )
    written = []
    if options.csv is not None:
        written.append(write_csv(comparison, options.csv))
    if options.png is not None:
        from limbfe.view.study.compare import write_comparison

        written.append(write_comparison(compare_picture(comparison, units), options.png))
    if options.json:
        print(json.dumps(comparison.to_dict()))
        return
    show(compare_tables(comparison, units))
    for path in written:
        print(f"wrote {path}")


def _weight(options: argparse.Namespace) -> float | None:
    """Return the draw weight asked for, having looked at the options that go with it."""
    weight = draw_weight(options, "--draw-weight", options.draw_weight)
    if weight is not None and options.equal not in (None, "weight"):
        raise CaseError(
            f"--equal {options.equal}: stands beside --draw-weight, which makes the weight equal; "
            "keep one"
        )
    if options.workers is not None and options.workers < 1:
        raise CaseError(f"--workers {options.workers}: must be at least 1")
    return weight


def _check_cases(paths: list[Path]) -> None:
    if len(paths) < 2:
        raise CaseError(f"compare: needs at least two cases and was given {paths[0]}; add another")
    seen: set[Path] = set()
    for path in paths:
        if path.resolve() in seen:
            raise CaseError(f"{path}: is given twice; leave one out")
        seen.add(path.resolve())
