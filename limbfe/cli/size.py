"""Command ``size``: how thick every station must be for a draw weight."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from limbfe.case.values import above_zero, draw_length, quantity
from limbfe.cli.common import Commands, add_command, add_tables, draw_weight, progress, show
from limbfe.errors import CaseError

if TYPE_CHECKING:
    from limbfe.case.schema import Case
    from limbfe.studies.size.sized import Sized
    from limbfe.units import Words


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(commands, "size", "find how thick every station must be for a draw weight")
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument(
        "--draw-weight", metavar="FORCE", help='what it shall draw, such as "45 lbf" or "200 N"'
    )
    parser.add_argument(
        "--draw",
        metavar="LENGTH",
        help='at this draw length, such as "28 in" (default: the case\'s)',
    )
    how = parser.add_mutually_exclusive_group()
    how.add_argument(
        "--scale", action="store_true", help="one factor on every thickness (the default)"
    )
    how.add_argument(
        "--even", action="store_true", help="strength used alike at every station of the limbs"
    )
    how.add_argument(
        "--sapwood",
        action="store_true",
        help="instead: how thick the sapwood may stay at the tips, and what thinning it changes",
    )
    parser.add_argument(
        "--tip",
        metavar="LENGTH",
        help="with --even: no station thinner (default: the case's tips; of a rough blank, two "
        "thirds of what one factor leaves there)",
    )
    parser.add_argument(
        "--blank-allowance",
        default="0 mm",
        metavar="LENGTH",
        help="how much thicker the blank still is than the case says (default: 0 mm)",
    )
    parser.add_argument(
        "--mend",
        action="store_true",
        help="leave the limb thicker at knots and decay until they are sound",
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="write the sized case (TOML)")
    parser.add_argument("--png", type=Path, metavar="FILE", help="write its picture")
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Size one bow: bench table or JSON on stdout, files where asked."""
    from limbfe.api import read_case
    from limbfe.report.size import size_tables, sized_heading
    from limbfe.studies.case_file import check_target, write_case
    from limbfe.units import unit_system

    case = read_case(options.case)
    if options.sapwood:
        _show_sapwood(case, options)
        return
    if options.out is not None:
        check_target(case, options.out)
    if options.png is not None and not options.png.parent.is_dir():
        raise CaseError(f'--png {options.png}: there is no folder "{options.png.parent}"; make it')
    with progress(options) as say:
        sized = _sized(case, options, say)
        written = []
        if options.out is not None:
            written.append(write_case(sized.case, options.out, sized_heading(sized)))
        if options.png is not None:
            say("drawing the picture")
            written.append(_write_picture(sized, options))
    if options.json:
        print(json.dumps(sized.to_dict()))
        return
    show(size_tables(sized, unit_system(options.units)))
    for path in written:
        print(f"wrote {path}")


def _show_sapwood(case: Case, options: argparse.Namespace) -> None:
    from limbfe.api import size_sapwood
    from limbfe.report.sapwood import sapwood_tables
    from limbfe.units import unit_system

    unwanted = {
        "--draw-weight": options.draw_weight,
        "--tip": options.tip,
        "--mend": options.mend or None,
        "--out": options.out,
        "--png": options.png,
    }
    for option, given in unwanted.items():
        if given is not None:
            raise CaseError(
                f"{option}: does not go with --sapwood, which compares bows and sizes none; leave "
                "it out"
            )
    draw = draw_length("--draw", options.draw)
    with progress(options) as say:
        study = size_sapwood(case, draw, tell=say)
    if options.json:
        print(json.dumps(study.to_dict()))
    else:
        show(sapwood_tables(study, unit_system(options.units)))


def _sized(case: Case, options: argparse.Namespace, say: Callable[[Words], None]) -> Sized:
    from limbfe.api import size
    from limbfe.studies.size.wanted import LARGEST_ALLOWANCE

    weight = draw_weight(options, "--draw-weight", options.draw_weight)
    draw = draw_length("--draw", options.draw)
    tip = above_zero("--tip", options.tip, "length")
    allowance = quantity("--blank-allowance", options.blank_allowance, "length")
    if weight is None:
        raise CaseError('size: give the weight it shall draw, such as --draw-weight "45 lbf"')
    if allowance is None or not 0.0 <= allowance <= LARGEST_ALLOWANCE:
        raise CaseError(
            f'--blank-allowance "{options.blank_allowance}": must lie between 0 and 100 mm'
        )
    if tip is not None and not options.even:
        raise CaseError("--tip: goes with --even; one factor on every thickness knows no least tip")
    return size(
        case,
        weight,
        draw,
        even=options.even,
        tip=tip,
        blank_allowance=allowance,
        mend=options.mend,
        tell=say,
    )


def _write_picture(sized: Sized, options: argparse.Namespace) -> Path:
    import numpy as np

    from limbfe.units import unit_system
    from limbfe.view.study.size import SizeView, write_size

    before, after = sized.before, sized.after
    weight = unit_system(options.units).force(sized.wanted.weight)
    view = SizeView(
        title=f"{sized.source.title}: thickness for {weight}",
        x=sized.x,
        now=sized.blank,
        reach=sized.thickness,
        free=sized.free | (np.array(sized.left_for) != ""),
        stiff_length=sized.case.file.grip.stiff_length,
        used_x=after.x,
        used_now=np.full(len(after.x), np.nan) if before is None else before.along(after.x),
        used_after=after.along(after.x),
        zones=sized.zone_marks,
    )
    return write_size(view, options.png, units=options.units)
