"""Command ``show``: pictures and films of one bow."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from limbfe.cli.common import Commands, add_command, add_units, progress, remark
from limbfe.errors import CaseError, LimbfeError

if TYPE_CHECKING:
    from limbfe.view.theme import Result


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "show", "look at the bow unstrung, braced and drawn")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument("--png", type=Path, metavar="FILE", help="write a picture, no window")
    parser.add_argument(
        "--page", type=Path, metavar="FILE", help="write a page in which the bow can be turned"
    )
    parser.add_argument(
        "--movie", type=Path, metavar="FILE", help="write the draw as a film (.gif or .mp4)"
    )
    parser.add_argument(
        "--first-strain",
        metavar="STRAIN",
        help='write first_strain.png: where the back first passes a strain such as "0.3%%"',
    )
    parser.add_argument(
        "--colour",
        choices=("strength-used", "strain", "stress", "sapwood"),
        default="strength-used",
        help="what the colour of the limb means (default: strength-used)",
    )
    add_units(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Draw pictures of one case, or open a window on it."""
    from limbfe.analysis.results.steps import surface_steps
    from limbfe.api import assess, read_case, solve
    from limbfe.units import say as tell
    from limbfe.units import unit_system

    case = read_case(options.case)
    level = _check(options)
    look: dict[str, Any] = {"result": RESULT_OF_COLOUR[options.colour], "units": options.units}
    with progress(options) as say:
        say("sections, brace, draw")
        solved = solve(case)
        assessment = assess(solved)
        for words in assessment.drawn.when_braced:
            remark(options, f"{tell(words, unit_system(options.units))}.")
        say("drawing")
        if options.png is not None:
            from limbfe.view.bow.limb import write_bow

            print(f"wrote {write_bow(assessment, options.png, **look)}")
        if options.page is not None:
            from limbfe.view.bow.page import write_page

            print(f"wrote {write_page(assessment, options.page, **look)}")
        if options.movie is not None:
            from limbfe.view.bow.film import write_film

            film = write_film(assessment, options.movie, surface_steps(solved), **look)
            print(f"wrote {film}")
        if level is not None:
            from limbfe.view.bow.first_strain import write_first_strain

            path, steps = Path("first_strain.png"), surface_steps(solved)
            written = write_first_strain(assessment, path, steps, level, units=options.units)
            print(f"wrote {written}")
    if _opens_window(options):
        from limbfe.view.bow.window import show_bow as open_window

        open_window(assessment, steps=surface_steps(solved), **look)


def _opens_window(options: argparse.Namespace) -> bool:
    wanted = (options.png, options.page, options.movie, options.first_strain)
    return all(item is None for item in wanted)


def _check(options: argparse.Namespace) -> float | None:
    """Refuse what cannot be drawn here before anything is computed; return the strain level."""
    from limbfe.view.bow.film import check_film
    from limbfe.view.bow.page import page_available
    from limbfe.view.probe import probe_display, require_rendering

    if _opens_window(options) and not (display := probe_display()).available:
        raise LimbfeError(f"show: {display.reason}")
    if any(item is not None for item in (options.png, options.page, options.movie)):
        require_rendering()
    if options.page is not None and page_available():
        raise LimbfeError(f"--page: {page_available()}")
    if options.movie is not None:
        check_film(options.movie)
    return None if options.first_strain is None else _strain_level(options.first_strain)


def _strain_level(text: str) -> float:
    """Return the strain that ``0.3%`` or ``0.003`` stands for."""
    number = text.strip().removesuffix("%")
    try:
        level = float(number) * (0.01 if text.strip().endswith("%") else 1.0)
    except ValueError:
        level = -1.0
    if not 0.0 < level < 0.05:
        raise CaseError(f'--first-strain "{text}": give a strain above 0 and below 5 %: "0.3%"')
    return level


RESULT_OF_COLOUR: dict[str, Result] = {
    "strength-used": "strength_used",
    "strain": "axial_strain",
    "stress": "axial_stress",
    "sapwood": "wood",
}
