"""One bow as its case states it: read, solved, drawn, judged, pulled."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from os import PathLike
from typing import TYPE_CHECKING

from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.api.given import File, Value, Values, as_setup
from limbfe.case.values import above_zero, quantity, values_of
from limbfe.case.values import draw_length as draw_length_of
from limbfe.errors import CaseError, ConvergenceError
from limbfe.memory import ANYWAY, large_is_allowed

if TYPE_CHECKING:
    from limbfe.analysis.bow.drawn import DrawnBow
    from limbfe.analysis.bow.long_string import LongStringPull
    from limbfe.analysis.bow.solve import SolvedBow
    from limbfe.analysis.results.assessment import Assessment
    from limbfe.analysis.results.section_report import SectionReport
    from limbfe.analysis.shot.results import Shots
    from limbfe.analysis.wood.draw_limits import DrawLimits
    from limbfe.analysis.wood.hot_spots import HotSpot
    from limbfe.analysis.wood.stringing import StringingOn
    from limbfe.analysis.zones.verdicts import JudgedZone
    from limbfe.analysis.zones.zone_verdict import ZoneVerdict
    from limbfe.case.schema import Case
    from limbfe.units import Words


def read_case(path: str | PathLike[str]) -> Case:
    """Read and check a case file.

    Parameters
    ----------
    path : path-like
        A TOML file.

    Returns
    -------
    Case
        Where it was read, its digest, and the checked tables of the file, SI: `case.file`.

    Raises
    ------
    CaseError
        Naming the file, the key, the value and the remedy.

    Examples
    --------
    >>> case = read_case("cases/ash_flatbow.toml")
    >>> round(case.file.draw.length, 6)
    0.7112
    """
    from limbfe.case.load import read_case as read

    return read(path)


def solve(
    case: Case | File | BowSetup | SolvedBow,
    length: Value | None = None,
    *,
    beyond: bool = True,
) -> SolvedBow:
    """Brace the bow and draw it for the first time: the model and every state of that pull.

    Parameters
    ----------
    case : Case, path, BowSetup or SolvedBow
        A bow that is solved already is handed back.
    length : float, m, or text, optional
        Draw length in place of the case's.
    beyond : bool
        Draw on past full draw too; only the judgement of knots and patches needs it.
    """
    from limbfe.analysis.bow.solve import SolvedBow, solve_bow

    if isinstance(case, SolvedBow):
        return case
    setup, wanted = as_setup(case), draw_length_of("length", length)
    if wanted is not None:
        setup = adjust(setup, drawing={"length": wanted})
    try:
        return solve_bow(setup, beyond=beyond)
    except ConvergenceError as error:
        # a bow that fails on the way is not told how it fails before what it is
        from limbfe.analysis.wood.when_braced import would_be_braced

        raise _after(would_be_braced(setup), error) from error


def _after(first: tuple[Words, ...], error: ConvergenceError) -> ConvergenceError:
    """Return an error with what is to be said before it; one that says it itself stays."""
    words = [str(one) for one in first if str(error) not in str(one)]
    return ConvergenceError(
        ". ".join([*words, str(error)]),
        draw_length=error.draw_length,
        iteration=error.iteration,
        residuals=error.residuals,
        last_state=error.last_state,
    )


def draw(case: Case | File | BowSetup | SolvedBow, length: Value | None = None) -> DrawnBow:
    """Brace the bow, exercise it and draw it to the case's draw length.

    Parameters
    ----------
    case : Case, path or BowSetup
        A setup comes from `limbfe.case.build.build_setup`; `limbfe.analysis.bow.setup.adjust`
        changes it.
    length : float, m, or text, optional
        Draw length in place of the case's.

    Returns
    -------
    DrawnBow
        Poses (global axes), draw curve, tips, tiller; SI, read-only; `to_dict()` gives the
        contract's units.

    Raises
    ------
    GeometryError
        If the string cannot be braced so, or the draw is shorter than the braced bow.
    ConvergenceError
        Carrying the draw length reached, when no equilibrium exists beyond it.

    Examples
    --------
    The ash flatbow pulls about 220 N (49 lbf) at 28 in:

    >>> bow = draw("cases/ash_flatbow.toml")
    >>> length, force = bow.curve.draw_length[-1], bow.curve.force[-1]
    >>> f"{length:.4f} m, {round(force, -1):.0f} N"
    '0.7112 m, 220 N'
    """
    from limbfe.analysis.warned_draw import warned_draw

    return warned_draw(solve(case, length, beyond=False))


def draw_limits(case: Case | File | BowSetup | SolvedBow) -> DrawLimits:
    """Draw on until clear wood yields and breaks or the bow gives way; knots are not looked at.

    Examples
    --------
    >>> limits = draw_limits("cases/ash_flatbow.toml")
    >>> limits.end, limits.end_at > 0.71
    ('break', True)
    """
    from limbfe.analysis.wood.draw_limits import draw_limits as find

    return find(solve(case, beyond=False))


def assess(
    case: Case | File | BowSetup | SolvedBow,
    *,
    tell: Callable[[Words], None] = lambda words: None,
    found: Callable[[DrawnBow | HotSpot | ZoneVerdict], None] = lambda one: None,
) -> Assessment:
    """Draw the bow and judge the stress in its wood, its knots and its decay.

    Parameters
    ----------
    case : Case, path or BowSetup
    tell : callable, optional
        Told in words what is being done.
    found : callable, optional
        Handed the drawn bow, its hardest worked clear wood and every verdict as they become known.

    Returns
    -------
    Assessment
        The `drawn` bow, the fields of limb and skin, hot spots and the verdict on every zone;
        `to_dict()` gives the contract's units, `to_vtu(path)` a file for other viewers.

    Raises
    ------
    GeometryError
        If the string cannot be braced so, or the draw is shorter than the braced bow.
    ConvergenceError
        Carrying the draw length reached, when no equilibrium exists beyond it.

    Examples
    --------
    How hard its belly is worked at the worst place:

    >>> found = assess(read_case("cases/ash_flatbow.toml"))
    >>> spot = found.hot_spots[0]
    >>> spot.face, spot.mode, f"{spot.strength_used:.2f}"
    ('belly', 'compression', '0.77')
    >>> [(zone.name, zone.verdict) for zone in found.zones]  # clear wood
    []
    """
    from limbfe.analysis.assess import assess_solved

    return assess_solved(solve(case), tell=tell, found=found)


def judge_zone(case: Case | File | BowSetup | SolvedBow, name: str) -> JudgedZone:
    """Judge one knot or patch; what `assess` does for every one of them.

    Raises
    ------
    CaseError
        If there is no zone of that name.
    GeometryError
        If nothing of it is left in the limb.
    """
    from limbfe.analysis.assess import look_at_zone

    return look_at_zone(solve(case), name)


def section_at(case: Case | File | BowSetup, at: Value) -> SectionReport:
    """Look at one cross-section.

    Parameters
    ----------
    case : Case, path or BowSetup
    at : float, m, or text
        Station along the bow from the middle of the grip; negative on the lower limb.

    Returns
    -------
    SectionReport
        Stiffness and mass, shape (6, 6), section axes; centres and principal axes.

    Raises
    ------
    GeometryError
        If the station lies beyond a tip.

    Examples
    --------
    >>> found = section_at(read_case("cases/ash_flatbow.toml"), -0.31)
    >>> found.stiffness.shape
    (6, 6)
    >>> bool(abs(found.stiffness - found.stiffness.T).max() < 1e-9 * found.stiffness.max())
    True
    """
    from limbfe.analysis.results.section_report import report_section

    x = quantity("at", at, "length")
    assert x is not None
    return report_section(as_setup(case), x)


def pull(
    case: Case | File | BowSetup,
    string_length: Value,
    *,
    force: Value | None = None,
    tip_movement: Value | None = None,
) -> LongStringPull:
    """Pull the unbraced bow at the middle of a long string, on a cradle, limbs elastic.

    Parameters
    ----------
    string_length : float, m, or text
    force : float, N, or text
        Pull to this force,
    tip_movement : float, m, or text
        or until the tips have moved so far; one of the two.

    Examples
    --------
    >>> pulled = pull("cases/ash_flatbow.toml", "1.95 m", force="45 lbf")
    >>> f"{pulled.force:.1f} N"
    '200.2 N'
    """
    from limbfe.analysis.bow.long_string import pull_long_string
    from limbfe.analysis.wood.when_braced import look_at_zones, would_be_braced

    length = above_zero("string_length", string_length, "length")
    pulled = above_zero("force", force, "draw weight")
    movement = above_zero("tip_movement", tip_movement, "length")
    if length is None or (pulled is None) == (movement is None):
        raise CaseError("pull: give string_length and one of force and tip_movement")
    setup = as_setup(case)
    found = pull_long_string(setup, length, force=pulled, tip_movement=movement)
    braced = would_be_braced(setup)
    cautions = (*braced, *look_at_zones(setup), *found.cautions)
    return replace(found, cautions=cautions, when_braced=braced)


def string_on(case: Case | File | BowSetup, height: Value | None = None) -> StringingOn:
    """Return what it takes to string the bow, and how low and high it can be braced.

    Parameters
    ----------
    height : float, m, or text, optional
        Brace height in place of the case's.

    Examples
    --------
    >>> strung = string_on("cases/ash_flatbow.toml")
    >>> low, high = strung.span
    >>> low < strung.wanted.brace_height < high
    True
    """
    from limbfe.analysis.wood.stringing import string_on as string

    return string(as_setup(case), above_zero("height", height, "length"))


def shoot(
    case: Case | File | BowSetup | SolvedBow,
    arrow: Values | None = None,
    *,
    dry: bool = False,
    undamped: bool = False,
    length: Value | None = None,
) -> Shots:
    """Shoot the exercised bow: speed, efficiency, what string and limbs bear.

    Parameters
    ----------
    arrow : float, kg, sequence of them, or text such as ``"450 gr"`` or ``"300:600:50 gr"``
        The case's ``[arrow]`` when left out.
    dry : bool
        Let it go without an arrow, beside the arrows given.
    undamped : bool
        Without losses in wood and string.
    length : float, m, or text, optional
        Draw length; the case's when left out.

    Raises
    ------
    CaseError
        If there is neither an arrow nor `dry`, or more arrows than a gigabyte holds the shots of.
    ConvergenceError
        If the bow cannot be drawn, or a shot does not converge; says how far it came.

    Examples
    --------
    >>> shots = shoot("cases/ash_flatbow.toml", "450 gr")
    >>> 35.0 < shots.shots[0].shot.speed < 60.0
    True
    """
    from limbfe.analysis.bow.solve import SolvedBow
    from limbfe.analysis.shot.shot import most_shots, shoot_bow

    given = arrow
    if isinstance(arrow, str) and ":" not in arrow:
        arrow = quantity("arrow", arrow, "mass")
    wanted = () if arrow is None else values_of("arrow", arrow, "mass")
    for mass in wanted:
        if not 0.0 < mass <= 2.0:
            raise CaseError(f'arrow "{given}": must lie above 0 and up to 2 kg')
    setup = case.model.setup if isinstance(case, SolvedBow) else as_setup(case)
    if not wanted and setup.shooting.arrow is not None and not dry:
        wanted = (setup.shooting.arrow,)
    if not wanted and not dry:
        raise CaseError(
            'arrow: missing; give its mass, such as "450 gr", with --arrow or in the case as '
            "[arrow] mass, or ask for a dry release"
        )
    elements = setup.analysis.elements_per_limb
    if len(wanted) > most_shots(elements) and not large_is_allowed():
        named = f' "{given}"' if isinstance(given, str) else ""
        raise CaseError(
            f"arrow{named}: {len(wanted)} of them, each with its whole shot, take more than a "
            f"gigabyte of memory; at most {most_shots(elements)} at a time go with "
            f"elements_per_limb = {elements}{ANYWAY}"
        )
    solved = case if isinstance(case, SolvedBow) else solve(setup, length, beyond=False)
    return shoot_bow(solved, wanted, dry=dry, damped=not undamped)
