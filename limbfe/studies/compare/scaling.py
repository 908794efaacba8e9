"""Bring a bow to a draw weight, a mass or a peak strain by one factor on its limbs' thickness.

`limbfe.studies.size` does the same to the draw weight of a case, within what its blank allows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.limb_field import limb_field
from limbfe.stave.reshape import reshaped
from limbfe.studies.compare.measures import bow_mass, strain_level
from limbfe.studies.thickness_factor import CUBE, Aim, find_factor
from limbfe.units import METRIC, UnitSystem

Figure = Literal["draw_weight", "mass", "strain"]
FIGURES: tuple[Figure, ...] = get_args(Figure)

POWER: dict[Figure, float] = {"draw_weight": CUBE, "mass": 1.0, "strain": 1.0}
TOLERANCE = 5e-4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScaledBow:
    """A bow with every thickness of its limbs times one factor.

    Attributes
    ----------
    setup : BowSetup
        The bow as it is now.
    solved : SolvedBow
        Drawn to the setup's draw length and no further.
    factor : float
        On the thickness of its limbs.
    """

    setup: BowSetup
    solved: SolvedBow
    factor: float


def scale_to(
    setup: BowSetup,
    *,
    draw_weight: float | None = None,
    mass: float | None = None,
    strain: float | None = None,
) -> ScaledBow:
    """Return the bow with its limbs made thicker or thinner by the one factor that meets a figure.

    Parameters
    ----------
    setup : BowSetup
    draw_weight : float, N, at the setup's draw length
    mass : float, kg, of the bow without its string
    strain : float, the peak along the limb on back or belly at full draw
        Exactly one of them.

    Raises
    ------
    ConvergenceError
        If the bow cannot be brought there; says what stands in the way and the nearest figure
        that was reached.
    LimbfeError
        If the bow cannot be solved as it stands.
    ValueError
        If not exactly one figure is given.

    Notes
    -----
    The figure is met within 0.05 per cent.  Wood comes off the belly: sapwood and backing keep
    their depth, knots and patches their place in the log.  The factor is first looked for on a
    coarse mesh, whose draw weight lies within 0.2 per cent of the converged one, then corrected
    on the setup's own.
    """
    given = {"draw_weight": draw_weight, "mass": mass, "strain": strain}
    wanted = {name: value for name in FIGURES if (value := given[name]) is not None}
    if len(wanted) != 1:
        raise ValueError("give exactly one of draw_weight, mass and strain")
    (figure, target), *_ = wanted.items()
    coarse = adjust(
        setup, analysis={"fineness": 0.5}, drawing={"steps": min(setup.drawing.steps, 6)}
    )
    near = find_factor(_aim(coarse, figure, target), 1.0, POWER[figure])
    return find_factor(_aim(setup, figure, target), near.factor, near.power).bow


def scaled(setup: BowSetup, factor: float) -> BowSetup:
    """Return the setup with the limbs' thickness times `factor`, the back left as it is.

    Stations in a stiff handle keep theirs.

    Raises
    ------
    GeometryError
        If the sapwood would fill the limb.
    """
    stave, half_grip = setup.stave, setup.stave.half_grip
    limb = (np.abs(stave.x) > half_grip + 1e-9) | (half_grip == 0.0)
    thickness = np.where(limb, factor * stave.thickness, stave.thickness)
    return replace(setup, stave=reshaped(stave, thickness=thickness))


def figure_of(solved: SolvedBow, figure: Figure) -> float:
    """Return a solved bow's draw weight (N), mass (kg) or peak strain."""
    if figure == "draw_weight":
        return solved.full_draw.draw_force
    if figure == "mass":
        return bow_mass(solved.model)[0]
    return strain_level(solved.model, limb_field(solved))[0]


def show_figure(figure: Figure, value: float, units: UnitSystem = METRIC) -> str:
    """Return the figure in words, for messages and headings."""
    if figure == "draw_weight":
        return f"a draw weight of {units.force(value)}"
    if figure == "mass":
        return f"a mass of {units.mass(value)}"
    return f"a peak strain of {100.0 * value:.2f} %"


def _aim(setup: BowSetup, figure: Figure, target: float) -> Aim[ScaledBow]:
    def solve(factor: float) -> ScaledBow:
        thicker = scaled(setup, factor)
        return ScaledBow(setup=thicker, solved=exercised_bow(thicker, beyond=False), factor=factor)

    return Aim(
        solve=solve,
        gap=lambda bow: math.log(figure_of(bow.solved, figure) / target),
        words=lambda gap: show_figure(figure, target * math.exp(gap)),
        within=TOLERANCE,
    )
