"""The search for the thickness at which clear wood works equally hard at every station.

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
from limbfe.errors import CaseError, ConvergenceError
from limbfe.frames import Array
from limbfe.section.yielding.inelastic import fibre_response
from limbfe.studies.size.blank import Blank
from limbfe.studies.size.recut import columns_of, recut
from limbfe.studies.size.sized import spread_of
from limbfe.studies.size.trial import (
    Trial,
    draw_trial,
    of_bow,
    used_derivatives,
    weight_derivatives,
)
from limbfe.units import Force, Sentence, Words, both_forces

EVEN = 0.02
"""Largest less smallest strength used over the mean, at the evened stations: what is promised."""
AIM = 0.004
"""What the search goes on for, while it gets nearer."""
WEIGHT = 2e-4
NEAR = 0.2
"""Spread, and share of the weight, from which on Newton's method is used."""
MOST_ROUNDS = 25
MOST_FAILURES = 4
"""Rounds one after the other that come no nearer."""
LARGEST_STEP = 0.15
"""Of the logarithm of a thickness in one round."""
STEEPEST = 6.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Round:
    """One bow on the way."""

    thickness: Array
    trial: Trial
    level: NDArray[np.bool_]
    spread: float
    off: float

    @property
    def done(self) -> bool:
        """Whether both aims are met."""
        return self.spread <= AIM and abs(self.off) <= WEIGHT

    @property
    def away(self) -> float:
        """How far from done, weighed so that neither aim is sought at the cost of the other."""
        return self.spread + 5.0 * abs(self.off)


@dataclass(slots=True, kw_only=True, eq=False)
class EvenSearch:
    """The search: case, room and draw length."""

    case: Case
    blank: Blank
    draw_length: float
    tell: Callable[[Words], None]
    rounds: int = 0
    slopes: tuple[Array, Array] | None = None

    def solve(self, thickness: Array, weight: float, *, coarse: bool) -> Round:
        """Draw the bow with a thickness at its stations."""
        self.rounds += 1
        cut = recut(self.case, {"thickness": thickness}, self.draw_length)
        thickness = columns_of(cut)["thickness"]
        with of_bow(f"sized for {both_forces(weight)}"):
            trial = draw_trial(build_setup(cut), coarse=coarse)
        level = self.blank.free & (thickness > self.blank.least + 1e-6)
        if not level.any():
            raise CaseError(
                "--even: every station would be at its least thickness, so there is nothing to "
                "even; ask for a higher draw weight, or for thinner tips with --tip"
            )
        spread = spread_of(trial.peaks(self.blank.x), level) or 0.0
        self.tell(
            Sentence(
                "sizing: bow {} draws {}, even within {:.1%}",
                self.rounds,
                Force(trial.force),
                spread,
            )
        )
        return Round(
            thickness=thickness,
            trial=trial,
            level=level,
            spread=spread,
            off=math.log(trial.force / weight),
        )

    def find(self, thickness: Array, weight: float, *, coarse: bool) -> Round:
        """Return the evenly worked bow of a weight, from a first guess on.

        Raises
        ------
        ConvergenceError
            If evenness or weight is not reached; names the station that is furthest off.
        """
        best = now = self.solve(thickness, weight, coarse=coarse)
        failed = 0
        for _ in range(MOST_ROUNDS):
            if now.done or failed > MOST_FAILURES:
                break
            if failed or (now.spread < NEAR and abs(now.off) < NEAR):
                start = best if failed > 1 else now
                if self.slopes is None or failed:
                    self.slopes = _slopes(start.trial, self.blank.x, start.thickness)
                following = self.newton(start, self.slopes, 0.5 ** max(failed - 1, 0))
            else:
                following = self.beam_step(now, weight)
            now = self.solve(following, weight, coarse=coarse)
            failed = 0 if now.done or now.away < 0.8 * best.away else failed + 1
            best = min(best, now, key=lambda one: (not one.done, one.away))
        if best.spread <= EVEN and abs(best.off) <= WEIGHT:
            return best
        used = best.trial.peaks(self.blank.x)
        away = np.where(best.level, np.abs(np.log(used / used[best.level].mean())), 0.0)
        place = self.blank.place(int(np.argmax(away)))
        raise ConvergenceError(
            f"no evenly worked bow was found: strength used still differs by {best.spread:.1%}, "
            f"most {place}, and the draw weight by {best.off:+.2%}; measure more stations there, "
            "or ask for a draw weight nearer to the present one",
            iteration=self.rounds,
        )

    def newton(self, now: Round, slopes: tuple[Array, Array], share: float) -> Array:
        """Return the thickness of the next round, a share of the step by exact derivatives."""
        used, force = slopes
        gap = np.log(now.trial.peaks(self.blank.x))
        over = gap > gap[now.level].mean() + 0.5 * EVEN
        on = np.flatnonzero(now.level | (self.blank.free & over))
        matrix = np.zeros((len(on) + 1, len(on) + 1))
        matrix[:-1, :-1], matrix[-1, :-1], matrix[:-1, -1] = used[np.ix_(on, on)], force[on], -1.0
        step = np.zeros_like(gap)
        # Stations closer together than the beam's cannot be told apart: the smallest step will do.
        step[on] = np.linalg.lstsq(matrix, -np.append(gap[on], now.off), rcond=1e-6)[0][:-1]
        limited = np.clip(share * step, -LARGEST_STEP, LARGEST_STEP)
        new: Array = np.maximum(now.thickness * np.exp(limited), self.blank.least)
        return new

    def beam_step(self, now: Round, weight: float) -> Array:
        """Return the thickness of the next round from the sections and the moments now."""
        trial, blank = now.trial, self.blank
        strains = trial.solved.full_draw.strains.reshape(-1, 6)
        moment = np.abs(trial.solved.full_draw.resultants.reshape(-1, 6)[:, 4])
        work = np.abs(strains[:, 4]) * moment * _length(trial)
        steep = np.interp(blank.x, trial.x, _steepness(trial))
        used = trial.peaks(blank.x)
        load = weight / trial.force

        def thickness_at(level: float) -> Array:
            wanted = now.thickness * (used / level) ** (0.5 / steep) * math.sqrt(load)
            low, high = (now.thickness * math.exp(s * LARGEST_STEP) for s in (-1.0, 1.0))
            new = np.maximum(np.clip(wanted, low, high), blank.least)
            return np.where(blank.free, new, blank.start)

        def too_stiff(logarithm: float) -> float:
            ratio = now.thickness / thickness_at(math.exp(logarithm))
            bend = (load * ratio**2) ** steep * ratio
            return float(work @ (np.interp(trial.x, blank.x, bend) - 1.0))

        mean = math.log(used[now.level].mean())
        low, high = mean - 1.0, mean + 1.0
        if too_stiff(low) * too_stiff(high) >= 0.0:
            level = low if abs(too_stiff(low)) < abs(too_stiff(high)) else high
        else:
            level = float(brentq(too_stiff, low, high, xtol=1e-10))
        return thickness_at(math.exp(level))


def _slopes(trial: Trial, x: Array, thickness: Array) -> tuple[Array, Array]:
    """Return logarithmic derivatives of strength used (s, s) and of the weight (s,) at stations."""
    used, force = used_derivatives(trial, x)
    now = np.maximum(trial.peaks(x), 1e-12)
    return used * thickness / now[:, None], force * thickness / trial.force


def worth_of(search: EvenSearch, reached: Round) -> Array:
    """Return the draw weight for each thickness at every station, shape (s,), N/m."""
    if search.slopes is None:
        return weight_derivatives(reached.trial)
    return search.slopes[1] * reached.trial.force / reached.thickness


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
