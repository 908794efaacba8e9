"""Command ``defect``: one knot or patch."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.cli.common import (
    Commands,
    add_command,
    add_tables,
    check_folder,
    progress,
    show,
    study_progress,
)
from limbfe.errors import CaseError


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "defect", "look at one knot or decay and the wood around it")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument("name", metavar="NAME", nargs="?", help="its name in the case file")
    parser.add_argument("--png", type=Path, metavar="FILE", help="write its picture")
    parser.add_argument(
        "--map",
        action="store_true",
        help="instead of one knot: the largest knot the bow bears, everywhere on back and belly",
    )
    parser.add_argument(
        "--out", type=Path, metavar="DIR", help="with --map: write knot_map.json and knot_map.png"
    )
    parser.add_argument(
        "--workers", type=int, metavar="N", help="with --map: processes (default: one a core)"
    )
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Show one knot or patch: verdict, numbers by depth, picture; or the map of allowed knots."""
    if options.map:
        _map(options)
        return
    if options.name is None:
        raise CaseError(
            "defect: name a knot or patch of the case, or ask for --map, the largest knots it bears"
        )
    for option in ("out", "workers"):
        if getattr(options, option) is not None:
            raise CaseError(f"--{option}: goes with --map; leave it out")
    from limbfe.api import judge_zone, read_case, solve
    from limbfe.report.defect import defect_tables
    from limbfe.units import unit_system

    case = read_case(options.case)
    with progress(options) as say:
        say("sections, brace, draw, local model")
        solved = solve(case)
        zone = judge_zone(solved, options.name)
        if options.png is not None:
            from limbfe.analysis.zones.close_up import close_up
            from limbfe.view.zone.picture import write_defect

            assert zone.local is not None
            view = close_up(zone.result, zone.local)
            write_defect(view, options.png, units=options.units)
    if options.json:
        print(json.dumps(zone.to_dict()))
    else:
        show(defect_tables(zone, unit_system(options.units), solved.braced.draw_length))
        if options.png is not None:
            print(f"wrote {options.png}")


def _map(options: argparse.Namespace) -> None:
    """Show the largest knots that a bow bears."""
    from limbfe.api import knot_map
    from limbfe.report.knot_map import map_tables
    from limbfe.units import unit_system
    from limbfe.whole_file import whole_file

    if options.name is not None:
        raise CaseError(f'defect: --map takes no knot; leave out the name "{options.name}"')
    if options.workers is not None and options.workers < 1:
        raise CaseError(f"--workers {options.workers}: must be at least 1")
    check_folder(options.out)
    with study_progress(options, "trial knots") as tell:
        found = knot_map(options.case, workers=options.workers, tell=tell)
    pictures, written = [], []
    if options.png is not None:
        pictures.append(options.png)
    if options.out is not None:
        options.out.mkdir(exist_ok=True)
        written.append(options.out / "knot_map.json")
        with whole_file(written[0]) as partial:
            partial.write_text(json.dumps(found.to_dict()), encoding="utf-8")
        pictures.append(options.out / "knot_map.png")
    if pictures:
        from limbfe.view.zone.knot_map import write_knot_map

        for path in pictures:
            write_knot_map(found.map, found.title, found.draw_length, path, options.units)
    if options.json:
        print(json.dumps(found.to_dict()))
        return
    show(map_tables(found, unit_system(options.units)))
    for path in (*written, *pictures):
        print(f"wrote {path}")
