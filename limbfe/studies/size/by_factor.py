"""One factor on the thickness of the limbs that gives a draw weight."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.frames import Array
from limbfe.studies.size.blank import Blank, blank_of
from limbfe.studies.size.out_of_reach import (
    breaks_first,
    not_enough_wood,
    nothing_left,
)
from limbfe.studies.size.recut import columns_of, recut
from limbfe.studies.size.sized import Sized, sized
from limbfe.studies.size.start import find_start
from limbfe.studies.size.trial import Trial, draw_trial, of_bow, unheard, weight_derivatives
from limbfe.studies.size.wanted import Wanted
from limbfe.studies.thickness_factor import CUBE, Aim, find_factor
from limbfe.units import Words, both_forces

TOLERANCE = 2e-4
"""Of the draw weight."""
EDGE = 0.999
"""Strength used by the heaviest bow that is offered when one breaks: below 1 by the tolerances."""


@dataclass(slots=True, kw_only=True, eq=False)
class _Scaling:
    """The bow at any factor; keeps count of how many were solved."""

    case: Case
    blank: Blank
    draw_length: float
    tell: Callable[[Words], None]
    rounds: int = 0

    def at(self, factor: float) -> Case:
        """Return the case at a factor."""
        blank = self.blank
        thickness = np.where(blank.free, factor * blank.present, blank.start)
        return recut(self.case, {"thickness": thickness}, self.draw_length)

    def solve(self, factor: float, *, coarse: bool) -> Trial:
        """Draw the bow at a factor."""
        self.rounds += 1
        self.tell(f"sizing: bow {self.rounds}, {factor:.4f} times as thick")
        with of_bow(f"with every thickness times {factor:.3f}"):
            return draw_trial(build_setup(self.at(factor)), coarse=coarse)

    def weighing(self, weight: float, *, coarse: bool) -> Aim[Trial]:
        """Return the search for the factor that gives a draw weight."""
        return Aim(
            solve=lambda factor: self.solve(factor, coarse=coarse),
            gap=lambda trial: math.log(trial.force / weight),
            words=lambda gap: f"a draw weight of {both_forces(weight * math.exp(gap))}",
            within=TOLERANCE,
        )

    def breaking(self) -> Aim[Trial]:
        """Return the search for the factor at which clear wood is about to break."""
        return Aim(
            solve=lambda factor: self.solve(factor, coarse=False),
            gap=lambda trial: math.log(float(trial.breaking.max()) / EDGE),
            words=lambda gap: f"clear wood at {EDGE * math.exp(gap):.1%} of its strength",
            within=TOLERANCE,
        )


def size_by_factor(
    case: Case,
    wanted: Wanted,
    *,
    keep: Array | None = None,
    tell: Callable[[Words], None] = unheard,
) -> Sized:
    """Return the bow whose limbs are thicker or thinner by the one factor that gives a weight.

    Parameters
    ----------
    case : Case
    wanted : Wanted
    keep : ndarray, shape (n,), m, optional
        Thickness of stations that are settled already; nan at the others.
    tell : callable
        Told in words what is being solved.

    Raises
    ------
    CaseError
        If the blank or the wood's strength forbids it; names the place and the nearest weight
        that is possible.
    ConvergenceError
        If a bow on the way has no equilibrium.

    Notes
    -----
    The stiff grip keeps its thickness.  Newton's method on the logarithms of weight and factor:
    on a coarse mesh with the slope 3 of the cube law first and that between the last two bows
    after; then at the case's own settings with the slope from the exact derivatives.
    """
    weight, draw_length = wanted.weight, wanted.draw_length
    setup = build_setup(recut(case, {}, draw_length))
    blank = blank_of(setup.stave, allowance=wanted.allowance, keep=keep)
    scaling = _Scaling(case=case, blank=blank, draw_length=draw_length, tell=tell)
    start = find_start(case, blank, weight, draw_length, tell)
    guess = _within(scaling, weight, start.factor)
    near = find_factor(scaling.weighing(weight, coarse=True), guess, CUBE)
    worth = weight_derivatives(near.bow)
    power = float((worth * columns_of(scaling.at(near.factor))["thickness"])[blank.free].sum())
    met = find_factor(scaling.weighing(weight, coarse=False), near.factor, power / near.bow.force)
    factor, after = met.factor, met.bow
    _within(scaling, weight, factor, after)
    _check_break(scaling, weight, factor, after)
    return sized(
        blank,
        method="scale",
        source=case,
        case=scaling.at(factor),
        wanted=wanted,
        level=np.zeros_like(blank.free),
        before=start.present,
        after=after,
        factor=factor,
        worth=worth,
        rounds=scaling.rounds,
    )


def _within(scaling: _Scaling, weight: float, factor: float, solved: Trial | None = None) -> float:
    """Return a factor the stave allows from which to search, or refuse the weight.

    The bow at the bound is solved to see whether the weight can be had at all, unless `solved`
    already has it.
    """
    blank, free = scaling.blank, scaling.blank.free
    most = float((blank.most / blank.present)[free].min())
    least = float((blank.least / blank.present)[free].max())
    bound = min(max(factor, least), most)
    if abs(bound / factor - 1.0) < TOLERANCE:
        return factor
    edge = scaling.solve(bound, coarse=False)
    lacking = factor > most
    if solved is None and (edge.force >= weight) == lacking:
        return bound
    refuse = not_enough_wood if lacking else nothing_left
    raise refuse(weight, blank, factor * blank.present, edge.force)


def _check_break(scaling: _Scaling, weight: float, factor: float, after: Trial) -> None:
    worst = float(after.breaking.max())
    if worst < 1.0:
        return
    edge = find_factor(scaling.breaking(), factor / worst, 1.0)
    raise breaks_first(weight, after, edge.bow.force)
