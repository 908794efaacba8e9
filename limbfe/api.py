"""The Python functions: read a case, draw the bow, assess it, look at one section."""

from __future__ import annotations

from os import PathLike

from limbfe.analysis.assess import assess_bow, draw_bow
from limbfe.analysis.results import Assessment, DrawnBow
from limbfe.analysis.section_report import SectionReport, report_section
from limbfe.analysis.settings import BowSetup
from limbfe.case.build import build_setup
from limbfe.case.load import read_case as _read_case
from limbfe.case.schema import Case


def read_case(path: str | PathLike[str]) -> Case:
    """Read and check a case file.

    Parameters
    ----------
    path : path-like
        A TOML file.

    Raises
    ------
    CaseError
        Naming the file, the key, the value and the remedy.
    """
    return _read_case(path)


def draw(case: Case | BowSetup) -> DrawnBow:
    """Brace the bow and draw it to the case's draw length.

    Raises
    ------
    ConvergenceError
        Carrying the draw length reached, when no equilibrium exists beyond it.
    """
    return draw_bow(_setup(case))


def assess(case: Case | BowSetup) -> Assessment:
    """Draw the bow and judge the stress in its wood, its knots and its decay.

    Raises
    ------
    ConvergenceError
        Carrying the draw length reached, when no equilibrium exists beyond it.
    """
    return assess_bow(_setup(case))


def section(case: Case | BowSetup, at: float) -> SectionReport:
    """Look at one cross-section.

    Parameters
    ----------
    case : Case or BowSetup
    at : float, m
        Station along the bow from the middle of the grip; negative on the lower limb.

    Raises
    ------
    GeometryError
        If the station lies beyond a tip.
    """
    return report_section(_setup(case), at)


def _setup(case: Case | BowSetup) -> BowSetup:
    return case if isinstance(case, BowSetup) else build_setup(case)
