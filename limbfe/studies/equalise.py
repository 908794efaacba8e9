"""Bring a bow to a draw weight, a mass or a peak strain by one factor on its limbs' thickness.

The factor is found by Newton's method on the logarithms of factor and figure.  For a limb of one
wood the draw weight goes about with the cube of the factor, the mass with the factor itself, and
so does the strain at a given draw length; those powers start the iteration, and the slope between
the last two solved bows carries it on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np

from limbfe.analysis.assess import limb_field
from limbfe.analysis.settings import BowSetup
from limbfe.analysis.solve import SolvedBow, solve_bow
from limbfe.errors import ConvergenceError, LimbfeError
from limbfe.stave.resize import reshaped
from limbfe.studies.measures import bow_mass, strain_level
from limbfe.units import METRIC, UnitSystem

Figure = Literal["draw_weight", "mass", "strain"]
FIGURES: tuple[Figure, ...] = get_args(Figure)

POWER: dict[Figure, float] = {"draw_weight": 3.0, "mass": 1.0, "strain": 1.0}
"""Of the thickness: a beam's stiffness goes with its cube (bending theory), the mass of a limb and
the strain of a curve of given shape with its first power."""
TOLERANCE = 5e-4
LARGEST = 2.5
"""Factor on thickness, or its inverse, beyond which a bow is another bow."""
LONGEST_STEP = 0.3
"""Of the factor's logarithm."""
SMALLEST_STEP = 2e-3
MOST_BOWS = 15


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Equalised:
    """A bow brought to a figure.

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
) -> Equalised:
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
    coarse = replace(setup, fineness=0.5, draw_steps=min(setup.draw_steps, 6))
    rough = _Search(setup=coarse, figure=figure, target=target)
    fine = _Search(setup=setup, figure=figure, target=target)
    near, power = _meet(rough, 1.0, POWER[figure])
    return _meet(fine, near.factor, power)[0]


def scaled(setup: BowSetup, factor: float) -> BowSetup:
    """Return the setup with the limbs' thickness times `factor`, the back left as it is.

    Stations in a stiff handle keep theirs.

    Raises
    ------
    GeometryError
        If the sapwood would fill the limb.
    """
    stave, half_grip = setup.stave, 0.5 * setup.stave.stiff_length
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Search:
    setup: BowSetup
    figure: Figure
    target: float

    def bow(self, factor: float) -> Equalised:
        """Solve the bow at one factor."""
        setup = scaled(self.setup, factor)
        return Equalised(setup=setup, solved=solve_bow(setup, beyond=False), factor=factor)

    def stuck(self, at: float, gap: float, reason: str) -> ConvergenceError:
        """Return the error of a bow that goes no further than the logarithm `at` of the factor."""
        nearest = show_figure(self.figure, self.target * math.exp(gap))
        return ConvergenceError(
            f"no factor on the thickness gives {show_figure(self.figure, self.target)}; the "
            f"nearest reached is {nearest}, {math.exp(at):.3f} times as thick, because {reason}"
        )


def _meet(search: _Search, factor: float, power: float) -> tuple[Equalised, float]:
    """Return the bow that meets the figure, and the last power of the factor it went with.

    Raises
    ------
    LimbfeError
        What the solver says of the bow at the first factor.
    ConvergenceError
        If a later one cannot be solved however near it comes to it.
    """
    bow = search.bow(factor)
    at, gap = math.log(factor), _gap(search, bow)
    barrier, reason = math.inf, ""
    for _ in range(MOST_BOWS):
        if abs(gap) < TOLERANCE:
            return bow, power
        step = max(min(-gap / power, LONGEST_STEP), -LONGEST_STEP)
        if (barrier - at) * step > 0.0 and abs(step) > 0.5 * abs(barrier - at):
            step = 0.5 * (barrier - at)
            if abs(step) < SMALLEST_STEP:
                break
        if abs(at + step) > math.log(LARGEST):
            reason = f"more than {LARGEST:g} times or less than 1/{LARGEST:g} of the thickness"
            raise search.stuck(at, gap, f"{reason} would be another bow")
        try:
            bow = search.bow(math.exp(at + step))
        except LimbfeError as error:
            barrier, reason = at + step, str(error)
            continue
        before, gap = gap, _gap(search, bow)
        at += step
        power = min(max((gap - before) / step, 0.3), 8.0)
    raise search.stuck(at, gap, reason or "the search did not settle")


def _gap(search: _Search, bow: Equalised) -> float:
    return math.log(figure_of(bow.solved, search.figure) / search.target)
