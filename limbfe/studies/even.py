"""Thickness at every station such that clear wood works equally hard all along the limbs.

Two kinds of step lead there, each followed by a solve of the yielding bow.  Far off, what a beam
tells: at given draw weight the moment along a drawn limb hardly depends on how its thickness is
spread, for it is the string's tension times its lever.  So where strength used is too high the limb
is made thicker by what the section itself says, and the level of strength used is chosen such that
the limb as a whole still bends as far as the draw asks (virtual work of the string's pull).  Near
by, Newton's method on all stations and the draw weight together, with the exact derivatives of the
drawn bow.

References
----------
Optimality criterion for beams of even strength: the fully stressed design, e.g. R. H. Gallagher,
in Optimum Structural Design: Theory and Applications (1973), chapter 3 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.errors import ConvergenceError
from limbfe.frames import Array
from limbfe.section.inelastic import fibre_response
from limbfe.studies.blank import Blank, blank_of
from limbfe.studies.limits import breaks_first, check_reach, not_enough_wood
from limbfe.studies.recut import columns_of, recut
from limbfe.studies.sized import Sized, spread_of
from limbfe.studies.trial import (
    Trial,
    draw_trial,
    judge_zones,
    unheard,
    used_derivatives,
    weight_derivatives,
)
from limbfe.units import METRIC

EVEN = 0.02
"""Largest less smallest strength used over the mean, at the evened stations: what is promised."""
AIM = 0.004
"""What the search goes on for, while it gets nearer."""
WEIGHT = 2e-4
NEAR = 0.08
"""Spread from which on Newton's method is used."""
MOST_ROUNDS = 25
LARGEST_STEP = 0.15
"""Of the logarithm of a thickness in one round."""
STEEPEST = 6.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Round:
    """One bow on the way."""

    thickness: Array
    trial: Trial
    level: NDArray[np.bool_]
    spread: float
    off: float

    @property
    def worst(self) -> float:
        """How far from done, 1 or less when both aims are met."""
        return max(self.spread / AIM, abs(self.off) / WEIGHT)


@dataclass(slots=True, kw_only=True, eq=False)
class _Evening:
    """The search: case, room, draw length and the factors zones ask for."""

    case: Case
    blank: Blank
    draw_length: float
    ease: Array
    tell: Callable[[str], None]
    rounds: int = 0
    slopes: tuple[Array, Array] | None = None

    def solve(self, thickness: Array, weight: float, *, coarse: bool) -> _Round:
        """Draw the bow with a thickness at its stations."""
        self.rounds += 1
        cut = recut(self.case, {"thickness": thickness}, self.draw_length)
        thickness = columns_of(cut)["thickness"]
        trial = draw_trial(build_setup(cut), coarse=coarse)
        level = self.blank.free & (thickness > self.blank.least + 1e-6)
        spread = spread_of(trial.used_at(self.blank.x) / self.ease, level) or 0.0
        self.tell(
            f"sizing: bow {self.rounds} draws {METRIC.force(trial.force)}, even within {spread:.1%}"
        )
        return _Round(
            thickness=thickness,
            trial=trial,
            level=level,
            spread=spread,
            off=math.log(trial.force / weight),
        )

    def search(self, thickness: Array, weight: float, *, coarse: bool) -> _Round:
        """Return the evenly worked bow of a weight, from a first guess on.

        Raises
        ------
        ConvergenceError
            If evenness or weight is not reached; names the station that is furthest off.
        """
        best = now = self.solve(thickness, weight, coarse=coarse)
        failed = 0
        for _ in range(MOST_ROUNDS):
            if best.worst <= 1.0 or failed > 3:
                break
            if best.spread < NEAR and abs(best.off) < NEAR:
                if self.slopes is None or failed:
                    self.slopes = _slopes(best.trial, self.blank.x, best.thickness)
                following = self.newton(best, self.slopes)
            else:
                following = self.beam_step(now, weight)
            now = self.solve(following, weight, coarse=coarse)
            failed = 0 if now.worst < 0.7 * best.worst else failed + 1
            best = min(best, now, key=lambda one: one.worst)
        if best.spread <= EVEN and abs(best.off) <= WEIGHT:
            return best
        used = best.trial.used_at(self.blank.x) / self.ease
        away = np.where(best.level, np.abs(np.log(used / used[best.level].mean())), 0.0)
        place = self.blank.place(int(np.argmax(away)))
        raise ConvergenceError(
            f"no evenly worked bow was found: strength used still differs by {best.spread:.1%}, "
            f"most {place}, at {best.off:+.2%} of the weight; put stations closer together there, "
            "or take the knot or narrow place out of the case",
            iteration=self.rounds,
        )

    def newton(self, now: _Round, slopes: tuple[Array, Array]) -> Array:
        """Return the thickness of the next round from the exact derivatives."""
        used, force = slopes
        gap = np.log(now.trial.used_at(self.blank.x) / self.ease)
        over = gap > gap[now.level].mean() + 0.5 * EVEN
        on = np.flatnonzero(now.level | (self.blank.free & over))
        matrix = np.zeros((len(on) + 1, len(on) + 1))
        matrix[:-1, :-1], matrix[-1, :-1], matrix[:-1, -1] = used[np.ix_(on, on)], force[on], -1.0
        step = np.zeros_like(gap)
        step[on] = np.linalg.solve(matrix, -np.append(gap[on], now.off))[:-1]
        limited = np.clip(step, -LARGEST_STEP, LARGEST_STEP)
        new: Array = np.maximum(now.thickness * np.exp(limited), self.blank.least)
        return new

    def beam_step(self, now: _Round, weight: float) -> Array:
        """Return the thickness of the next round from the sections and the moments now."""
        trial, blank = now.trial, self.blank
        strains = trial.solved.full_draw.strains.reshape(-1, 6)
        moment = np.abs(trial.solved.full_draw.resultants.reshape(-1, 6)[:, 4])
        work = np.abs(strains[:, 4]) * moment * _length(trial)
        steep = np.interp(blank.x, trial.x, _steepness(trial))
        used = trial.used_at(blank.x) / self.ease
        load = weight / trial.force

        def thickness_at(level: float) -> Array:
            wanted = now.thickness * (used / level) ** (0.5 / steep) * math.sqrt(load)
            low, high = (now.thickness * math.exp(s * LARGEST_STEP) for s in (-1.0, 1.0))
            new = np.maximum(np.clip(wanted, low, high), blank.least)
            return np.where(blank.free, new, now.thickness)

        def too_stiff(logarithm: float) -> float:
            ratio = now.thickness / thickness_at(math.exp(logarithm))
            bend = (load * ratio**2) ** steep * ratio
            return float(work @ (np.interp(trial.x, blank.x, bend) - 1.0))

        mean = math.log(used[now.level].mean()) if now.level.any() else 0.0
        low, high = mean - 1.0, mean + 1.0
        if too_stiff(low) * too_stiff(high) >= 0.0:
            level = low if abs(too_stiff(low)) < abs(too_stiff(high)) else high
        else:
            level = float(brentq(too_stiff, low, high, xtol=1e-10))
        return thickness_at(math.exp(level))


def size_evenly(
    case: Case,
    weight: float,
    draw_length: float,
    *,
    allowance: float = 0.0,
    tip: float | None = None,
    ease: Array | None = None,
    tell: Callable[[str], None] = unheard,
) -> Sized:
    """Return the bow that has a weight and works its clear wood equally hard at every station.

    Parameters
    ----------
    case : Case
    weight : float, N
        Wanted at `draw_length`.
    draw_length : float, m
    allowance : float, m
        How much thicker the blank still is than the case says.
    tip : float, optional
        m; no station becomes thinner.  The case's own tips when left out.
    ease : ndarray, shape (n,), optional
        Share of the common level that each station is worked to, for places that must be spared;
        1 everywhere when left out.
    tell : callable
        Told in words what was solved.

    Raises
    ------
    CaseError
        If the blank or the wood's strength forbids it; names the place and the nearest weight
        that is possible.
    ConvergenceError
        If a bow on the way has no equilibrium, or no evenly worked bow is found.

    Notes
    -----
    Stations in the stiff grip keep their thickness.  Stations at the least thickness (near the
    tips) work less than the others and are not counted in the spread.  Even at the stations is
    not even between them: the limb's thickness runs smoothly from one to the next.
    """
    now = recut(case, {}, draw_length)
    setup = build_setup(now)
    x, present = setup.stave.x, setup.stave.thickness
    least_tip = float(min(present[0], present[-1])) if tip is None else tip
    blank = blank_of(setup.stave, allowance=allowance, tip=least_tip)
    evening = _Evening(
        case=case,
        blank=blank,
        draw_length=draw_length,
        ease=np.ones_like(x) if ease is None else ease,
        tell=tell,
    )
    before = draw_trial(setup, coarse=False)
    check_reach(weight, before.force)
    near = evening.search(np.maximum(present, blank.least), weight, coarse=True)
    found = evening.search(near.thickness, weight, coarse=False)
    if float(blank.lacking(found.thickness).max()) > 1e-5:
        raise not_enough_wood(weight, blank, found.thickness, _most_wood(evening, found, weight))
    if float(found.trial.breaking.max()) >= 1.0:
        raise breaks_first(weight, found.trial, _strongest(evening, found, weight))
    columns = columns_of(case)
    return Sized(
        method="even",
        source=case,
        case=recut(case, {"thickness": found.thickness}, draw_length),
        draw_length=draw_length,
        weight=weight,
        x=x,
        width_now=columns["width"],
        width=columns["width"],
        thickness_now=present,
        thickness=found.thickness,
        free=blank.free,
        level=found.level,
        before=before,
        after=found.trial,
        factor=None,
        worth=_worth(evening, found),
        rounds=evening.rounds,
        zones=judge_zones(found.trial),
    )


def _most_wood(evening: _Evening, found: _Round, weight: float) -> float:
    """Return the weight (N) of the heaviest evenly worked bow the blank has wood for."""
    blank, now = evening.blank, found
    for _ in range(MOST_ROUNDS):
        room = float((blank.most / now.thickness)[blank.free & (blank.most > blank.least)].min())
        if abs(room - 1.0) < 1e-4:
            break
        weight *= room**3
        now = evening.search(now.thickness, weight, coarse=True)
    return weight


def _strongest(evening: _Evening, found: _Round, weight: float) -> float:
    """Return the weight (N) of the evenly worked bow that is just about to break."""
    now = found
    for _ in range(MOST_ROUNDS):
        worst = float(now.trial.breaking.max())
        if 0.99 < worst < 0.9995:
            break
        weight *= (0.997 / worst) ** 3
        now = evening.search(now.thickness, weight, coarse=True)
    return weight


def _slopes(trial: Trial, x: Array, thickness: Array) -> tuple[Array, Array]:
    """Return logarithmic derivatives of strength used (s, s) and of the weight (s,) at stations."""
    used, force = used_derivatives(trial, x)
    now = np.maximum(trial.used_at(x), 1e-12)
    return used * thickness / now[:, None], force * thickness / trial.force


def _worth(evening: _Evening, found: _Round) -> Array:
    if evening.slopes is None:
        return weight_derivatives(found.trial)
    return evening.slopes[1] * found.trial.force / found.thickness


def _length(trial: Trial) -> Array:
    """Return the length of axis that every Gauss station stands for, shape (S,), m."""
    return np.repeat(trial.solved.model.bow.chain.length / 2.0, 2)


def _steepness(trial: Trial) -> Array:
    """Return by what power curvature grows with the moment, shape (S,): 1 before yielding."""
    solved = trial.solved
    strains = solved.full_draw.strains.reshape(-1, 6)
    response = fibre_response(solved.section, strains, solved.plastic[-1])
    tangent = np.linalg.inv(response.tangent)[:, 4, 4]
    moment = response.resultants[:, 4]
    bent = np.abs(strains[:, 4]) > 1e-6
    power = np.where(bent, moment * tangent / np.where(bent, strains[:, 4], 1.0), 1.0)
    return np.clip(power, 1.0, STEEPEST)
