"""Command ``shoot``: how fast the arrow flies, and what string and limbs bear."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.case.values import draw_length
from limbfe.cli.common import Commands, add_assumptions, add_command, add_tables, progress, show


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(
        commands, "shoot", "shoot the exercised bow: arrow speed, what string and limbs bear"
    )
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--arrow",
        metavar="MASS",
        help='mass of the arrow, such as "450 gr" or "30 g", or a range "300:600:50 gr"; the '
        "case's [arrow] when left out",
    )
    parser.add_argument(
        "--dry",
        action="store_true",
        help="let go without an arrow, to see what that does: NEVER do it",
    )
    parser.add_argument(
        "--undamped", action="store_true", help="leave out what wood and string lose"
    )
    parser.add_argument(
        "--to", metavar="LENGTH", help='draw to this length instead of the case\'s, such as "28 in"'
    )
    parser.add_argument(
        "--png",
        type=Path,
        metavar="FILE",
        help="picture of energies, tension and strain in time; this, film and page show the first "
        "arrow, without one the dry release",
    )
    parser.add_argument(
        "--movie", type=Path, metavar="FILE", help="film of the shot in slow motion (.gif or .mp4)"
    )
    parser.add_argument(
        "--page", type=Path, metavar="FILE", help="the film as a page that turns (.html)"
    )
    parser.add_argument(
        "--modes", type=Path, metavar="FILE", help="picture of how the braced bow vibrates"
    )
    add_tables(parser)
    add_assumptions(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Shoot one case."""
    from limbfe.api import read_case, shoot
    from limbfe.units import unit_system

    length = draw_length("--to", options.to)
    if options.movie is not None:
        from limbfe.view.bow.film import check_film

        check_film(options.movie)
    case = read_case(options.case)
    with progress(options) as say:
        say("drawing, exercising, shooting")
        shots = shoot(
            case, options.arrow, dry=options.dry, undamped=options.undamped, length=length
        )
    units = unit_system(options.units)
    if options.png is not None:
        from limbfe.view.bow.shot import draw_shot

        draw_shot(shots, options.png, units)
    if options.movie is not None:
        from limbfe.view.bow.shot_film import write_shot_film

        write_shot_film(shots, options.movie, units)
    if options.page is not None:
        from limbfe.view.bow.shot_page import write_shot_page

        write_shot_page(shots, options.page, units)
    if options.modes is not None:
        from limbfe.view.bow.modes import draw_modes

        draw_modes(shots, options.modes)
    if options.json:
        print(json.dumps(shots.to_dict()))
        return
    from limbfe.report.shoot import shot_tables

    show(shot_tables(shots, units, assumptions=options.assumptions))
