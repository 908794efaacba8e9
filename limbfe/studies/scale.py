"""One factor on the thickness of the limbs that gives a draw weight.

References
----------
Beam theory: the stiffness of a bent limb goes with its width and with the cube of its thickness
(any text on strength of materials); the search starts from there, and the solved, yielding bow
decides.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.errors import ConvergenceError
from limbfe.frames import Array
from limbfe.studies.blank import Blank, blank_of
from limbfe.studies.limits import breaks_first, check_reach, not_enough_wood, nothing_left
from limbfe.studies.recut import columns_of, recut
from limbfe.studies.sized import Sized
from limbfe.studies.trial import Trial, draw_trial, of_bow, unheard, weight_derivatives

CUBE = 3.0
TOLERANCE = 2e-4
"""Of the draw weight."""
EDGE = 0.999
"""Strength used by the heaviest bow that is offered when one breaks: below 1 by the tolerances."""
MOST_ROUNDS = 12
LONGEST_STEP = 0.25
"""Of the logarithm of the factor."""


@dataclass(slots=True, kw_only=True, eq=False)
class _Scaling:
    """The bow at any factor; keeps count of how many were solved."""

    case: Case
    blank: Blank
    draw_length: float
    tell: Callable[[str], None]
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

    def find(
        self, gap: Callable[[Trial], float], factor: float, power: float, *, coarse: bool
    ) -> tuple[float, Trial]:
        """Return the factor at which `gap`, a logarithm, vanishes; `power` is its first slope."""
        at, trial = math.log(factor), self.solve(factor, coarse=coarse)
        here = gap(trial)
        for _ in range(MOST_ROUNDS):
            if abs(here) < TOLERANCE:
                return math.exp(at), trial
            step = max(min(-here / power, LONGEST_STEP), -LONGEST_STEP)
            trial = self.solve(math.exp(at + step), coarse=coarse)
            before, here, at = here, gap(trial), at + step
            power = min(max((here - before) / step, 0.3), 9.0)
        raise ConvergenceError(
            f"no factor on the thickness was found: still {here:+.2%} off at {math.exp(at):.4f}; "
            "try a draw weight nearer to the present one",
            iteration=MOST_ROUNDS,
        )


def scale_to_weight(
    case: Case,
    weight: float,
    draw_length: float,
    *,
    allowance: float = 0.0,
    keep: Array | None = None,
    tell: Callable[[str], None] = unheard,
) -> Sized:
    """Return the bow whose limbs are thicker or thinner by the one factor that gives a weight.

    Parameters
    ----------
    case : Case
    weight : float, N
        Wanted at `draw_length`.
    draw_length : float, m
    allowance : float, m
        How much thicker the blank still is than the case says.
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
    setup = build_setup(recut(case, {}, draw_length))
    blank = blank_of(setup.stave, allowance=allowance, keep=keep)
    scaling = _Scaling(case=case, blank=blank, draw_length=draw_length, tell=tell)
    before = draw_trial(setup, coarse=False)
    check_reach(weight, before.force)
    guess = _within(scaling, weight, (weight / before.force) ** (1.0 / CUBE))

    def gap(trial: Trial) -> float:
        return math.log(trial.force / weight)

    near, trial = scaling.find(gap, guess, CUBE, coarse=True)
    worth = weight_derivatives(trial)
    power = float((worth * columns_of(scaling.at(near))["thickness"])[blank.free].sum())
    factor, after = scaling.find(gap, near, power / trial.force, coarse=False)
    _within(scaling, weight, factor, after)
    _check_break(scaling, weight, factor, after)
    columns, case_after = columns_of(case), scaling.at(factor)
    return Sized(
        method="scale",
        source=case,
        case=case_after,
        draw_length=draw_length,
        weight=weight,
        x=blank.x,
        width_now=columns["width"],
        width=columns["width"],
        thickness_now=blank.present,
        allowance=allowance,
        thickness=columns_of(case_after)["thickness"],
        free=blank.free,
        left_for=("",) * len(blank.x),
        level=np.zeros_like(blank.free),
        before=before,
        after=after,
        factor=factor,
        worth=worth,
        rounds=scaling.rounds,
        zones=(),
    )


def _within(scaling: _Scaling, weight: float, factor: float, found: Trial | None = None) -> float:
    """Return a factor the stave allows from which to search, or refuse the weight.

    The bow at the bound is solved to see whether the weight can be had at all, unless `found`
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
    if found is None and (edge.force >= weight) == lacking:
        return bound
    refuse = not_enough_wood if lacking else nothing_left
    raise refuse(weight, blank, factor * blank.present, edge.force)


def _check_break(scaling: _Scaling, weight: float, factor: float, after: Trial) -> None:
    worst = float(after.breaking.max())
    if worst < 1.0:
        return

    def beyond_edge(trial: Trial) -> float:
        return math.log(float(trial.breaking.max()) / EDGE)

    _, edge = scaling.find(beyond_edge, factor / worst, 1.0, coarse=False)
    raise breaks_first(weight, after, edge.force)
