"""What a bowyer asks beside one stave: what to take off, how thick to go, what its wood is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal, TypedDict, Unpack

from limbfe.analysis.bow.setup import BowSetup
from limbfe.api.bow import solve
from limbfe.api.given import File, Value, as_case, as_setup
from limbfe.case.values import above_zero, quantity
from limbfe.case.values import draw_length as draw_length_of
from limbfe.errors import CaseError
from limbfe.stave.reshape import reshaped
from limbfe.units import both_lengths

if TYPE_CHECKING:
    from limbfe.analysis.bow.solve import SolvedBow
    from limbfe.analysis.rates.shave import ShaveMap
    from limbfe.case.schema import Case
    from limbfe.studies.fit.results import Fit
    from limbfe.studies.size.sapwood import SapwoodStudy
    from limbfe.studies.size.sized import Sized
    from limbfe.studies.take.results import Taking
    from limbfe.units import Words


def shave(
    case: Case | File | BowSetup | SolvedBow,
    *,
    off_belly: Value = 0.5e-3,
    off_width: Value = 1e-3,
) -> ShaveMap:
    """Work out what a shaving at each station changes: weight, strength used, tiller.

    Of the bow once exercised; a solved bow that is not is exercised first.

    Parameters
    ----------
    off_belly : float, m, or text
    off_width : float, m, or text
        Half of it on each side.

    Examples
    --------
    >>> found = shave("cases/ash_flatbow.toml", off_belly="0.3 mm")
    >>> bool(found.belly.draw_weight.min() < 0.0)
    True
    """
    from limbfe.analysis.bow.exercise import exercise
    from limbfe.analysis.rates.shave import LARGEST, shave_map

    sizes = []
    for name, value in (("off_belly", off_belly), ("off_width", off_width)):
        size = above_zero(name, value, "length")
        if size is None or size > LARGEST:
            raise CaseError(f'{name} "{value}": must lie above 0 and up to {both_lengths(LARGEST)}')
        sizes.append(size)
    solved = exercise(solve(case, beyond=False))
    return shave_map(solved, off_belly=sizes[0], off_width=sizes[1])


def take_wood(
    case: Case | File,
    draw_weight: Value,
    *,
    step: Value = 5e-4,
    readings: File | Fit | None = None,
    tell: Callable[[Words], None] | None = None,
) -> Taking:
    """Say where to take wood next: at most five lines, in order, with the bow each leaves.

    Parameters
    ----------
    draw_weight : float, N, or text
        Wanted in the end.
    step : float, m, or text
        What the tool takes off at once.
    readings : path or Fit, optional
        The bow is taken as these readings on the tiller say, or their fit; see `fit`.
    tell : callable, optional
        Told what is being done.

    Examples
    --------
    >>> found = take_wood("cases/ash_flatbow.toml", "45 lbf")
    >>> 1 <= len(found.lines) <= 5, found.after.draw_weight > found.target
    (True, True)
    """
    from limbfe.analysis.rates.shave import LARGEST
    from limbfe.studies.size.trial import unheard
    from limbfe.studies.take.take import take_wood as take

    weight = above_zero("draw_weight", draw_weight, "draw weight")
    tool = above_zero("step", step, "length")
    assert weight is not None
    if tool is None or not 1e-4 <= tool <= LARGEST:
        raise CaseError(f'step "{step}": must lie between 0.1 mm and {both_lengths(LARGEST)}')
    read = as_case(case)
    setup = as_setup(read)
    if readings is not None:
        from limbfe.studies.fit.case_file import fitted_widths
        from limbfe.studies.fit.results import Fit

        found = readings if isinstance(readings, Fit) else fit(read, readings)
        stave = reshaped(found.setup.stave, width=fitted_widths(found.setup, found))
        setup = replace(found.setup, stave=stave)
    return take(
        setup,
        weight,
        step=tool,
        readings="" if readings is None else found.readings.file,
        tell=tell or unheard,
    )


class Cutting(TypedDict, total=False):
    """How a bow is sized, beyond its weight; see `size`."""

    even: bool
    tip: Value | None
    blank_allowance: Value
    mend: bool


def size(
    case: Case | File,
    draw_weight: Value,
    draw_length: Value | None = None,
    *,
    tell: Callable[[Words], None] | None = None,
    **cutting: Unpack[Cutting],
) -> Sized:
    """Find how thick every station must be for a draw weight.

    Parameters
    ----------
    draw_weight : float, N, or text
    draw_length : float, m, or text, optional
        The case's when left out.
    tell : callable, optional
        Told what is being done.
    even : bool
        Strength used alike along the limbs, in place of one factor on every thickness.
    tip : float, m, or text, optional
        With `even`: no station thinner; the case's tips when left out.
    blank_allowance : float, m, or text
        How much thicker the blank still is than the case says.
    mend : bool
        Leave wood at knots and decay until they are sound.

    Examples
    --------
    >>> sized = size("cases/ash_flatbow.toml", "40 lbf")
    >>> bool(sized.factor < 1.0), f"{sized.after.force:.0f} N"
    (True, '178 N')
    """
    from limbfe.studies.size.size import size_bow
    from limbfe.studies.size.trial import unheard
    from limbfe.studies.size.wanted import LARGEST_ALLOWANCE, Wanted

    if unknown := set(cutting) - set(Cutting.__annotations__):
        raise TypeError(f"size: no such argument: {', '.join(sorted(unknown))}")
    even, given = cutting.get("even", False), cutting.get("blank_allowance", 0.0)
    weight = above_zero("draw_weight", draw_weight, "draw weight")
    length = draw_length_of("draw_length", draw_length)
    tip = above_zero("tip", cutting.get("tip"), "length")
    allowance = quantity("blank_allowance", given, "length")
    assert weight is not None
    if allowance is None or not 0.0 <= allowance <= LARGEST_ALLOWANCE:
        raise CaseError(
            f'blank_allowance "{given}": must lie between 0 and {both_lengths(LARGEST_ALLOWANCE)}'
        )
    if tip is not None and not even:
        raise CaseError("tip: goes with even; one factor on every thickness knows no least tip")
    read = as_case(case)
    return size_bow(
        read,
        Wanted(
            weight=weight,
            draw_length=read.file.draw.length if length is None else length,
            allowance=allowance,
            tip=tip,
        ),
        method="even" if even else "scale",
        mend=cutting.get("mend", False),
        tell=tell or unheard,
    )


def size_sapwood(
    case: Case | File,
    draw_length: Value | None = None,
    *,
    tell: Callable[[Words], None] | None = None,
) -> SapwoodStudy:
    """Find how thick the sapwood may stay at the tips, and what thinning it there changes."""
    from limbfe.studies.size.sapwood import study_sapwood
    from limbfe.studies.size.trial import unheard

    wanted = draw_length_of("draw_length", draw_length)
    return study_sapwood(as_case(case), wanted, tell=tell or unheard)


def fit(
    case: Case | File,
    readings: File,
    *,
    hold: Literal["tiller", "hand", "clamp"] = "tiller",
    first_pull: bool = False,
    measured_to: Value | None = None,
    uneven: Value | None = None,
    uneven_over: Value | None = None,
) -> Fit:
    """Find the stiffness of the wood from readings on the tiller.

    Parameters
    ----------
    readings : path
        CSV, as `limbfe fit --help` describes it.  Of several dated sessions the last is fitted, and
        `Fit.log` says what changed from one to the next.
    hold : {"tiller", "hand", "clamp"}
        How the grip was held for the readings.
    first_pull : bool
        Every reading is that of a first draw so far; else the bow was drawn this far before, as
        tillering does, and its reflex measured since.
    measured_to : float, m, or text, optional
        Error of a measured thickness or width; 0.2 mm when left out.
    uneven : float or text, optional
        How far the wood's stiffness strays along the stave, one standard deviation; 5 %.
    uneven_over : float, m, or text, optional
        How long such a place is; 150 mm.
    """
    from limbfe.studies.fit import fit_readings
    from limbfe.studies.fit.log import read_log
    from limbfe.studies.fit.parameters import Doubt
    from limbfe.studies.fit.sessions import fit_sessions

    error = above_zero("measured_to", measured_to, "length")
    if error is not None and error > 5e-3:
        raise CaseError(f'measured_to "{measured_to}": must be at most 5 mm (0.2 in)')
    share = above_zero("uneven", uneven, "fraction")
    if share is not None and share > 0.5:
        raise CaseError(f'uneven "{uneven}": must be at most 50 %')
    over = above_zero("uneven_over", uneven_over, "length")
    stray = {"measured_to": error, "uneven": share, "uneven_over": over}
    read = as_case(case)
    setup = as_setup(read)
    one = partial(
        fit_readings,
        setup,
        hold=hold,
        first_pull=first_pull,
        one_wood=read.file.wood.sapwood is None,
        doubt=Doubt(**{name: value for name, value in stray.items() if value is not None}),
    )
    return fit_sessions(read_log(Path(readings), setup), one)
