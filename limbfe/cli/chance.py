"""Command ``chance``: how likely this bow holds, what it draws, and what to measure next."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.cli.common import (
    Commands,
    add_assumptions,
    add_cluster,
    add_command,
    add_tables,
    check_folder,
    show,
    study_progress,
)


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(
        commands, "chance", "say how likely the bow holds, what it draws, and what to measure next"
    )
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--held", metavar="LENGTH", help='it has borne this draw without harm, such as "24 in"'
    )
    parser.add_argument(
        "--readings",
        type=Path,
        metavar="FILE",
        help="what was read of it on the tiller, or its log (CSV, as fit takes it): of all bows of "
        "its wood those that would be read so",
    )
    parser.add_argument(
        "--hold",
        choices=("tiller", "hand", "clamp"),
        help="how the grip was held for the readings (default: tiller)",
    )
    parser.add_argument(
        "--first-pull", action="store_true",
        help="for the readings it was drawn so far for the first time; else it had been before",
    )  # fmt: skip
    parser.add_argument(
        "--calliper", metavar="ERROR", help='of one measured thickness (default: "0.2 mm")'
    )
    parser.add_argument("--tape", metavar="ERROR", help='of one measured width ("0.5 mm")')
    parser.add_argument(
        "--archer", metavar="ERROR", help='of the draw length from shot to shot ("6 mm")'
    )
    parser.add_argument("--samples", type=int, metavar="N", help="quick bows (default: 40000)")
    parser.add_argument("--bows", type=int, metavar="N", help="bows drawn in full (default: 128)")
    parser.add_argument(
        "--local", type=int, metavar="N",
        help="besides, judge the knots and patches of so many of these bows each on models of its "
        "own, not by tables (seconds a bow; with --keep a stopped run goes on)",
    )  # fmt: skip
    parser.add_argument("--seed", type=int, default=0, metavar="N", help="of the samples")
    parser.add_argument("--out", type=Path, metavar="DIR", help="write chance.json and chance.png")
    parser.add_argument(
        "--keep", type=Path, metavar="FILE", help="keep drawn bows there, to go on when stopped"
    )
    parser.add_argument("--workers", type=int, metavar="N", help="processes (default: one a core)")
    add_cluster(parser)
    add_assumptions(parser)
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Tell the chances of one bow: one screen, picture, JSON."""
    from limbfe.api import chance, read_case
    from limbfe.report.chance import chance_picture, chance_screen
    from limbfe.units import unit_system
    from limbfe.whole_file import whole_file

    check_folder(options.out)
    case = read_case(options.case)
    with study_progress(options, "bows drawn in full") as tell:
        found = chance(
            case,
            held=options.held,
            samples=options.samples,
            bows=options.bows,
            local=options.local,
            seed=options.seed,
            calliper=options.calliper,
            tape=options.tape,
            archer=options.archer,
            readings=options.readings,
            hold=options.hold,
            first_pull=options.first_pull or None,
            workers=options.workers,
            cluster=options.cluster,
            journal=options.keep,
            tell=tell,
        )
    written = []
    if options.out is not None:
        from limbfe.view.study.chance import write_chance

        options.out.mkdir(exist_ok=True)
        written.append(options.out / "chance.json")
        with whole_file(written[0]) as partial:
            partial.write_text(json.dumps(found.to_dict()), encoding="utf-8")
        picture = chance_picture(found)
        written.append(write_chance(picture, options.out / "chance.png", units=options.units))
    if options.json:
        print(json.dumps(found.to_dict()))
        return
    show(chance_screen(found, unit_system(options.units), assumptions=options.assumptions))
    for path in written:
        print(f"wrote {path}")
