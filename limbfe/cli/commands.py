"""What each command does."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console, RenderableType

from limbfe.errors import CaseError
from limbfe.units import Kind, unit_system
from limbfe.version import __version__

if TYPE_CHECKING:
    from limbfe.view.theme import Result


def run(options: argparse.Namespace) -> int:
    """Run the command that `options` name and return the exit code."""
    if options.version:
        print(__version__)
        return 0
    command = COMMANDS.get(options.command)
    if command is None:
        from limbfe.cli.parser import build_parser

        build_parser().print_help()
        return 0
    command(options)
    return 0


def assess(options: argparse.Namespace) -> None:
    """Assess every case: tables or JSON on stdout, files where asked."""
    from limbfe.api import assess as assess_case
    from limbfe.api import read_case
    from limbfe.report.files import prepare_folder, write_files
    from limbfe.report.tables import assessment_tables

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


def draw(options: argparse.Namespace) -> None:
    """Brace and draw one case."""
    from limbfe.api import draw as draw_case
    from limbfe.api import read_case
    from limbfe.report.tables import draw_tables

    with progress(options) as say:
        say("sections, brace, draw")
        bow = draw_case(read_case(options.case))
    if options.json:
        print(json.dumps(bow.to_dict()))
    else:
        show(draw_tables(bow, unit_system(options.units)))


def show_bow(options: argparse.Namespace) -> None:
    """Draw pictures of one case, or open a window on it."""
    from limbfe.analysis.assess import assess_solved
    from limbfe.analysis.solve import solve_bow
    from limbfe.analysis.steps import surface_steps
    from limbfe.api import read_case
    from limbfe.case.build import build_setup
    from limbfe.view.probe import require_rendering

    wanted = (options.png, options.page, options.movie, options.first_strain)
    result = RESULT_OF_COLOUR[options.colour]
    setup = build_setup(read_case(options.case))
    with progress(options) as say:
        say("sections, brace, draw")
        solved = solve_bow(setup)
        assessment = assess_solved(solved)
        if options.png is not None:
            from limbfe.view.limb import write_bow

            require_rendering()
            print(f"wrote {write_bow(assessment, options.png, result=result)}")
        if options.page is not None:
            from limbfe.view.page import page_available, write_page

            if page_available():
                raise CaseError(f"--page: {page_available()}")
            print(f"wrote {write_page(assessment, options.page, result=result)}")
        if options.movie is not None:
            from limbfe.view.film import write_film

            require_rendering()
            film = write_film(assessment, options.movie, surface_steps(solved), result=result)
            print(f"wrote {film}")
        if options.first_strain is not None:
            from limbfe.view.first_strain import write_first_strain

            level, path = _strain_level(options.first_strain), Path("first_strain.png")
            written = write_first_strain(assessment, path, surface_steps(solved), level)
            print(f"wrote {written}")
    if all(item is None for item in wanted):
        from limbfe.view.window import show_bow as open_window

        open_window(assessment, steps=surface_steps(solved), result=result)


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


def section(options: argparse.Namespace) -> None:
    """Show one cross-section."""
    from limbfe.api import assess as assess_case
    from limbfe.api import read_case
    from limbfe.api import section as section_of
    from limbfe.report.tables import section_table

    at = _quantity("--at", options.at, "length")
    assert at is not None
    case = read_case(options.case)
    x = at if options.limb == "upper" else -at
    report = section_of(case, x)
    if options.json:
        print(json.dumps(report.to_dict()))
    else:
        show(section_table(report, unit_system(options.units)))
    if options.png is not None:
        from limbfe.view.section import write_section

        with progress(options) as say:
            say("sections, brace, draw")
            written = write_section(assess_case(case), x, options.png, units=options.units)
        if not options.json:
            print(f"wrote {written}")


def defect(options: argparse.Namespace) -> None:
    """Show one knot or patch: verdict, numbers by depth, picture."""
    from limbfe.analysis.assess import look_at_defect
    from limbfe.analysis.solve import solve_bow
    from limbfe.api import read_case
    from limbfe.case.build import build_setup
    from limbfe.report.defect import defect_dict, defect_tables

    setup = build_setup(read_case(options.case))
    with progress(options) as say:
        say("sections, brace, draw, local model")
        result, problem, outcome = look_at_defect(solve_bow(setup), options.name)
        if options.png is not None:
            from limbfe.view.close_up import close_up
            from limbfe.view.defect import write_defect

            title = f"{problem.zone}: {result.verdict}"
            view = close_up(problem, outcome, title[0].upper() + title[1:])
            write_defect(view, options.png, units=options.units)
    if options.json:
        print(json.dumps(defect_dict(result, outcome)))
    else:
        show(defect_tables(result, outcome, unit_system(options.units)))
        if options.png is not None:
            print(f"wrote {options.png}")


def pull(options: argparse.Namespace) -> None:
    """Pull one bow on a long string."""
    from limbfe.analysis.long_string import pull_long_string
    from limbfe.api import read_case
    from limbfe.case.build import build_setup
    from limbfe.report.tables import pull_table

    length = _quantity("--string-length", options.string_length, "length")
    force = _quantity("--force", options.force, "force")
    movement = _quantity("--tip-movement", options.tip_movement, "length")
    if length is None or (force is None) == (movement is None):
        raise CaseError("pull: give --string-length and one of --force and --tip-movement")
    with progress(options) as say:
        say("sections, pull")
        setup = build_setup(read_case(options.case))
        pulled = pull_long_string(setup, length, force=force, tip_movement=movement)
    if options.json:
        print(json.dumps(pulled.to_dict()))
    else:
        show(pull_table(pulled, unit_system(options.units)))


def _quantity(option: str, text: str | None, kind: Kind) -> float | None:
    """Return the SI value of an option, None where it was not given."""
    from limbfe.units import UnitError, parse_quantity

    if text is None:
        return None
    try:
        return parse_quantity(text, kind)
    except UnitError as error:
        raise CaseError(f'{option} "{text}": {error}') from error


def woods(options: argparse.Namespace) -> None:
    """List the built-in woods, or one of them with the source of every figure."""
    from limbfe.report.woods import species_table, wood_table

    show(wood_table(options.species) if options.species else species_table())


@contextmanager
def progress(options: argparse.Namespace) -> Iterator[Callable[[str], None]]:
    """Show on stderr what is being done, but only to a person who is watching."""
    console = Console(stderr=True)
    if getattr(options, "json", False) or not console.is_terminal:
        yield lambda text: _plain(options, text)
        return
    with console.status("reading") as status:
        yield lambda text: _live(console, status.update, text)


def _plain(options: argparse.Namespace, text: str) -> None:
    if text.startswith("left out") and not getattr(options, "json", False):
        print(text, file=sys.stderr)


def _live(console: Console, update: Callable[[str], None], text: str) -> None:
    if text.startswith("left out"):
        console.print(text)
    else:
        update(text)


def show(table: RenderableType) -> None:
    """Print tables, as wide as they need when no terminal limits them."""
    console = Console()
    if not console.is_terminal:
        console = Console(width=120)
    console.print(table)


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


RESULT_OF_COLOUR: dict[str, Result] = {
    "strength-used": "strength_used",
    "strain": "axial_strain",
    "stress": "axial_stress",
    "sapwood": "wood",
}

COMMANDS: dict[str, Callable[[argparse.Namespace], None]] = {
    "assess": assess,
    "defect": defect,
    "draw": draw,
    "pull": pull,
    "section": section,
    "show": show_bow,
    "woods": woods,
}
