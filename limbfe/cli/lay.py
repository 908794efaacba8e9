"""Command ``lay``: where a bow lies in a split stave."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from limbfe.cli.common import (
    Commands,
    add_cluster,
    add_command,
    add_tables,
    check_folder,
    progress,
    remark,
    show,
)
from limbfe.errors import CaseError

if TYPE_CHECKING:
    from limbfe.studies.lay.results import LaidOut


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "lay", "find where a bow lies in a split stave: line and cuts")
    parser.add_argument("stave", type=Path, metavar="STAVE", help="stave sheet (TOML)")
    parser.add_argument("--out", type=Path, metavar="DIR", help="write case, lines and pictures")
    parser.add_argument(
        "--fix",
        action="append",
        default=[],
        metavar="WHAT",
        help='settle something, such as "upper_end=top", "cut_butt=90 mm", "through=840 mm, 5 mm"; '
        "may be repeated",
    )
    parser.add_argument(
        "--near",
        type=Path,
        metavar="FILE",
        help="lines.csv of a layout drawn before: the line moves as little as it must",
    )
    parser.add_argument(
        "--sections",
        metavar="AT",
        help='stations of the sections in sections.png, from the butt: "228 mm, 655 mm" '
        "(default: at every knot in the bow, and between)",
    )
    parser.add_argument("--quick", action="store_true", help="the first look only, not assessed")
    parser.add_argument("--workers", type=int, metavar="N", help="processes (default: one a core)")
    add_cluster(parser)
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Lay one bow: tables or JSON on stdout, files where asked."""
    from limbfe.api import lay
    from limbfe.report.lay import lay_tables
    from limbfe.studies.lay.results import LaidOut
    from limbfe.units import Words, unit_system

    if options.workers is not None and options.workers < 1:
        raise CaseError(f"--workers {options.workers}: must be at least 1")
    check_folder(options.out)
    sections = _sections(options)
    with progress(options) as say:

        def tell(said: Words | LaidOut) -> None:
            if isinstance(said, LaidOut):
                _first_look(options, said)
            else:
                say(said)

        found = lay(
            options.stave,
            fix=options.fix,
            near=options.near,
            quick=options.quick,
            workers=options.workers,
            cluster=options.cluster,
            tell=tell,
        )
        written = [] if options.out is None else _write(found, options, sections)
    if options.json:
        print(json.dumps(found.to_dict()))
        return
    show(lay_tables(found, unit_system(options.units)))
    for path in written:
        print(f"wrote {path}")


def _sections(options: argparse.Namespace) -> tuple[float, ...]:
    """Return the stations asked for, m from the butt, each on the stave."""
    if options.sections is None:
        return ()
    if options.out is None:
        raise CaseError("--sections: says what goes into sections.png; give a folder with --out")
    from limbfe.api import read_sheet
    from limbfe.case.values import quantity
    from limbfe.units import both_lengths

    length = read_sheet(options.stave).file.stave.station[-1]
    stations = []
    for text in options.sections.split(","):
        at = quantity("--sections", text.strip(), "length")
        assert at is not None
        if not 0.0 <= at <= length:
            raise CaseError(
                f'--sections "{text.strip()}": lies outside the stave; give stations from the butt '
                f"end, 0 to {both_lengths(length)}"
            )
        stations.append(at)
    return tuple(stations)


def _first_look(options: argparse.Namespace, first: LaidOut) -> None:
    from limbfe.units import say, unit_system

    units = unit_system(options.units)
    remark(options, "First look, by the width that knots leave; assessing takes some seconds more")
    for reason in first.best.reasons:
        remark(options, f"  - {say(reason, units)}")


def _write(found: LaidOut, options: argparse.Namespace, sections: tuple[float, ...]) -> list[Path]:
    from limbfe.report.stave_pictures import write_pictures
    from limbfe.studies.lay.files import write_case, write_lines

    folder: Path = options.out
    folder.mkdir(exist_ok=True)
    return [
        write_case(found, folder / "laid.toml"),
        write_lines(found, folder / "lines.csv"),
        *write_pictures(found, folder, options.units, sections),
    ]
