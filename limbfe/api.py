"""The Python functions: read a case, draw the bow, assess it, look at one section."""

from __future__ import annotations

from os import PathLike
from typing import TYPE_CHECKING

from limbfe.analysis.settings import BowSetup

if TYPE_CHECKING:
    from limbfe.analysis.results import Assessment, DrawnBow
    from limbfe.analysis.section_report import SectionReport
    from limbfe.case.schema import Case

# Each function loads what it needs: a draw shall not wait for the local models of knots.


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


def draw(case: Case | BowSetup) -> DrawnBow:
    """Brace the bow and draw it to the case's draw length, let it down and draw it again.

    Parameters
    ----------
    case : Case or BowSetup
        A setup, from `limbfe.case.build.build_setup`, may be changed with `dataclasses.replace`.

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
    The ash flatbow pulls about 200 N (45 lbf) at 28 in:

    >>> bow = draw(read_case("cases/ash_flatbow.toml"))
    >>> length, force = bow.curve.draw_length[-1], bow.curve.force[-1]
    >>> f"{length:.4f} m, {round(force, -1):.0f} N"
    '0.7112 m, 200 N'
    """
    from limbfe.analysis.solve import solve_bow
    from limbfe.analysis.warned_draw import warned_draw

    return warned_draw(solve_bow(_setup(case)))


def assess(case: Case | BowSetup) -> Assessment:
    """Draw the bow and judge the stress in its wood, its knots and its decay.

    Parameters
    ----------
    case : Case or BowSetup

    Returns
    -------
    Assessment
        A `DrawnBow` with the fields of limb and skin, hot spots and the verdict on every zone;
        `to_dict()` gives the contract's units, `to_vtu(path)` a file for other viewers.

    Raises
    ------
    GeometryError
        If the string cannot be braced so, or the draw is shorter than the braced bow.
    ConvergenceError
        Carrying the draw length reached, when no equilibrium exists beyond it.

    Examples
    --------
    Its belly is nearly crushed at the worst place:

    >>> found = assess(read_case("cases/ash_flatbow.toml"))
    >>> spot = found.hot_spots[0]
    >>> spot.face, spot.mode, f"{spot.strength_used:.2f}"
    ('belly', 'compression', '0.99')
    >>> [(zone.name, zone.verdict) for zone in found.defects]  # clear wood
    []
    """
    from limbfe.analysis.assess import assess_bow

    return assess_bow(_setup(case))


def section_at(case: Case | BowSetup, at: float) -> SectionReport:
    """Look at one cross-section.

    Parameters
    ----------
    case : Case or BowSetup
    at : float, m
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
    from limbfe.analysis.section_report import report_section

    return report_section(_setup(case), at)


def _setup(case: Case | BowSetup) -> BowSetup:
    if isinstance(case, BowSetup):
        return case
    from limbfe.case.build import build_setup

    return build_setup(case)
