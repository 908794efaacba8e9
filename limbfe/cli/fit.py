"""Command ``fit``: from readings on the tiller to the stiffness of the wood."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from limbfe.case.values import above_zero, quantity
from limbfe.cli.common import Commands, add_command, add_tables, progress, show
from limbfe.errors import CaseError

_COLUMNS = """\
The file of readings is CSV with the unit in every heading, one line a draw;
leave empty what was not read:
  draw_length [mm]   from the back at the grip to the string; or the word braced
  draw_force [N]     on the scale; force_scatter [N] how far it may be out
  upper_tip [mm]     how far the back of the tip stands towards the archer,
  lower_tip [mm]     along the pull, from the back at the grip (negative: still
                     in front of it)
  limb, at [mm], position [mm]
                     the same for any place: upper or lower, and how far from
                     the middle of the grip along the back
  position_scatter [mm]
                     how far positions may be out
A tillering log is such a file with a date in every session's first row; the
last session is fitted, and what changed since the ones before is said:
  date               such as 2024-03-05; rows without one belong to the day
                     above
  set [mm]           how far the unstrung tips have come towards the archer;
                     once a session
  moisture [%]       of the wood; once a session
"""


def add(commands: Commands) -> None:
    """Declare the command."""
    parser = add_command(
        commands, "fit", "find the stiffness of the wood from readings on the tiller"
    )
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = _COLUMNS
    parser.add_argument("case", type=Path, metavar="CASE", help="case file (TOML)")
    parser.add_argument("readings", type=Path, metavar="READINGS", help="what was read (CSV)")
    parser.add_argument(
        "--hold",
        choices=("tiller", "hand", "clamp"),
        default="tiller",
        help="how the grip was held for the readings (default: tiller, on a cradle)",
    )
    parser.add_argument(
        "--first-pull",
        action="store_true",
        help="the bow had never been drawn as far as these readings; else it had, as in tillering, "
        "and its reflex was measured since",
    )
    parser.add_argument("--exercised", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument(
        "--measured-to",
        metavar="LENGTH",
        help='error of a measured thickness or width (default: "0.2 mm")',
    )
    parser.add_argument(
        "--uneven",
        metavar="SHARE",
        help="how far the wood's stiffness strays along the stave, one standard deviation "
        '(default: "5 %%", a choice: no source gives it)',
    )
    parser.add_argument(
        "--uneven-over",
        metavar="LENGTH",
        help='how long such a stiff or soft place is (default: "150 mm", a choice too)',
    )
    parser.add_argument("--png", type=Path, metavar="FILE", help="write the picture")
    parser.add_argument(
        "--out",
        type=Path,
        metavar="FILE",
        help="write the case as fitted, ready to be drawn and assessed (TOML)",
    )
    add_tables(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Fit one case to one file of readings."""
    from limbfe.api import fit as fit_case
    from limbfe.api import read_case
    from limbfe.report.fit import fit_tables
    from limbfe.studies.case_file import check_target
    from limbfe.studies.fit.case_file import write_fitted
    from limbfe.units import unit_system

    if options.exercised:
        raise CaseError(
            "--exercised: every bow is taken for exercised now; leave it out (--first-pull says "
            "otherwise)"
        )
    measured_to = quantity("--measured-to", options.measured_to, "length")
    if measured_to is not None and not 0.0 < measured_to <= 5e-3:
        raise CaseError(
            f'--measured-to "{options.measured_to}": must be above zero and at most 5 mm (0.2 in)'
        )
    uneven = quantity("--uneven", options.uneven, "fraction")
    if uneven is not None and not 0.0 < uneven <= 0.5:
        raise CaseError(f'--uneven "{options.uneven}": must be above zero and at most 50 %')
    over = above_zero("--uneven-over", options.uneven_over, "length")
    case = read_case(options.case)
    if options.out is not None:
        check_target(case, options.out)
    written = []
    with progress(options) as say:
        say(f"{case.title}: fitting {options.readings}")
        fit = fit_case(
            case,
            options.readings,
            hold=options.hold,
            first_pull=options.first_pull,
            measured_to=measured_to,
            uneven=uneven,
            uneven_over=over,
        )
        if options.png is not None:
            from limbfe.report.fit import fit_picture
            from limbfe.view.study.fit import write_fit

            say(f"drawing {options.png}")
            written.append(write_fit(fit_picture(fit), options.png, units=options.units))
        if options.out is not None:
            written.append(write_fitted(case, fit, options.out))
    if options.json:
        print(json.dumps(fit.to_dict()))
        return
    show(fit_tables(fit, unit_system(options.units)))
    for path in written:
        print(f"wrote {path}")
