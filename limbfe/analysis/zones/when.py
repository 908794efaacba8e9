"""At what draw a zone splits or breaks, and up to which it is sound.

Neither the resultants of a limb nor what they strain grow alike as it is drawn: a braced limb is
pressed more than a drawn one, and what is crushed hands its load on.  So a zone is judged again at
the draws that matter, loaded by the resultants of the bow exercised as far.  What has changed since
the draw of the verdict is found by the plate's quick member, of which only the proportion counts; a
split that was followed goes with the pull on the limb beside it, and what a section says with its
own strain.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from limbfe.analysis.wood.known_draws import KnownDraws
from limbfe.analysis.wood.limb_load import LimbLoad
from limbfe.analysis.zones.own_sections import share_at_station
from limbfe.analysis.zones.trials import TRIAL_ELEMENT
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.failure.beside import pull_beside
from limbfe.failure.local import StageCache, judge_zone
from limbfe.failure.probability import Demand, Demands, failure_probability
from limbfe.failure.problem import (
    AXIAL,
    LocalOutcome,
    LocalProblem,
    ModeOutcome,
    Place,
    factors,
)
from limbfe.failure.verdict import sound_factor
from limbfe.frames import Array

NEAR = 0.01
"""Draw (m) from the next one judged within which the strain may carry an answer on."""
SURELY_BEYOND = 0.1
"""Logarithm of the load factor left in the last known draw from which nothing is judged there:
none of those measured was guessed further off."""
SURELY = 0.995
"""Part of the load at which a zone ceases to be sound that is named: draw lengths are read off
between two states."""


class When(NamedTuple):
    """A draw length (m), and what the bow pulls there (N)."""

    length: float
    force: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AtDraw:
    """What is found of a zone at one draw.

    Attributes
    ----------
    outcome : LocalOutcome
        Its modes and its chance of failure; all else as in the verdict.
    split : float
        Of the load that a followed split goes with, over that in the verdict.
    """

    outcome: LocalOutcome
    split: float


Event = Callable[[AtDraw], float]
"""By what factor the load of a draw falls short of something that comes of a zone."""


def splits(at: AtDraw) -> float:
    """Return the factor from which a split or an opened joint is to be seen."""
    followed = at.outcome.grain_split
    if followed is None:
        return factors(at.outcome.modes["split"])[1]
    return min(followed.start, followed.opens) / at.split


def breaks(at: AtDraw) -> float:
    """Return the factor at which fibres break."""
    return factors(at.outcome.modes["fibre"])[1]


def ceases_to_be_sound(at: AtDraw) -> float:
    """Return the factor up to which a zone is surely sound."""
    return SURELY * sound_factor(at.outcome)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """A zone as it was judged: at which load, what was asked and what was found."""

    load: LimbLoad
    problem: LocalProblem
    outcome: LocalOutcome


class OtherDraws:
    """A judged zone at the other draws of its bow.

    Parameters
    ----------
    known : KnownDraws
    judged : Judged
    problem_at : callable
        From another load to the zone's problem.
    guess : callable
        From a place of the zone to its strain at every known draw over that of the verdict.
    seed : int
        Of the random staves behind a chance.
    """

    def __init__(
        self,
        known: KnownDraws,
        judged: Judged,
        problem_at: Callable[[LimbLoad], LocalProblem],
        guess: Callable[[Place], Array],
        seed: int,
    ) -> None:
        self._known, self._judged, self._seed = known, judged, seed
        self._problem_at, self._guess = problem_at, guess
        self._found = {known.full: AtDraw(outcome=judged.outcome, split=1.0)}
        self._then: Mapping[str, float] | None = None
        self._stages: StageCache = {}

    def reached(self, event: Event, place: Place) -> When | None:
        """Return the draw at which something comes of the zone; None beyond those that are known.

        Parameters
        ----------
        event : callable
        place : Place
            Where it comes of, to guess from.
        """
        known = self._known
        if not np.isfinite(event(self._found[known.full])):
            return None
        guessed = -_log(self._guess(place))
        left = {k: float(_log(event(found))) for k, found in self._found.items()}
        while True:
            at = sorted(left)
            off = np.interp(known.lengths, known.lengths[at], [left[k] - guessed[k] for k in at])
            curve = np.minimum.accumulate(guessed + off)
            length = _crossing(known.lengths, curve)
            wanted = [k for k in self._near(length, float(curve[-1])) if k not in left]
            if not wanted:
                break
            left[wanted[0]] = self._left(event, wanted[0])
        if length is None:
            return None
        return When(length, float(np.interp(length, known.lengths, known.forces)))

    def _near(self, length: float | None, left: float) -> list[int]:
        """Return the known draws that must have been judged for an answer, the nearest first."""
        lengths = self._known.lengths
        last = len(lengths) - 1
        if length is None:
            return [last] if left < SURELY_BEYOND else []
        # a braced bow is not exercised: the first draw after it stands for it
        order = np.argsort(np.abs(lengths[1:] - length)) + 1
        near = [int(k) for k in order[:2]]
        return near[:1] if abs(lengths[near[0]] - length) <= NEAR else near

    def _left(self, event: Event, number: int) -> float:
        """Return the logarithm of an event's factor at a draw."""
        if number not in self._found:
            try:
                self._found[number] = self._at(self._known.load(number))
            except (ConvergenceError, GeometryError):
                # what cannot carry the load of a draw has failed by then
                return 0.0
        return float(_log(event(self._found[number])))

    def _at(self, load: LimbLoad) -> AtDraw:
        judged, problem = self._judged, self._problem_at(load)
        if self._then is None:
            self._then = self._quick(judged.problem)
        now, then = self._quick(problem), self._then
        pull = pull_beside(judged.problem)
        split = pull_beside(problem) / pull if pull > 0.0 else 1.0

        def share(kind: str, mode: ModeOutcome) -> float:
            if mode.station is not None:
                return float(share_at_station(judged.load, load.strains[None], mode.place)[0])
            if judged.outcome.grain_split is not None and kind not in AXIAL:
                return split
            return now[kind] / then[kind] if then[kind] > 0.0 else 1.0

        shares = {kind: share(kind, mode) for kind, mode in judged.outcome.modes.items()}
        outcome = replace(
            judged.outcome,
            modes={
                kind: replace(
                    mode,
                    low=shares[kind] * mode.low,
                    typical=shares[kind] * mode.typical,
                    high=shares[kind] * mode.high,
                )
                for kind, mode in judged.outcome.modes.items()
            },
        )
        if (asked := judged.outcome.demands) is None:
            return AtDraw(outcome=outcome, split=split)
        asked = _asked(asked, shares, _limb_share(problem, judged.problem))
        rng = np.random.default_rng(self._seed)
        chance = failure_probability(asked.rupture, asked.splits, asked.scatter, rng, asked.beside)
        return AtDraw(outcome=replace(outcome, probability=chance), split=split)

    def _quick(self, problem: LocalProblem) -> Mapping[str, float]:
        """Return strength used on the layers that lead, by the quick member."""
        leading = {self._judged.outcome.modes[mode].z for mode in ("fibre", "split", "yield")}
        layers = {int(np.abs([one.z - z for one in problem.layers]).argmin()) for z in leading}
        tried = replace(
            problem,
            layers=tuple(problem.layers[k] for k in sorted(layers)),
            sections=(),
            rough=True,
            member="quick",
            element_size=TRIAL_ELEMENT,
        )
        outcome = judge_zone(tried, stages=self._stages)
        return {mode: one.typical for mode, one in outcome.modes.items()}


def _asked(asked: Demands, shares: Mapping[str, float], limb: float) -> Demands:
    """Return what a zone asks of the wood at another draw."""
    ways = ("split",) if len(asked.splits) == 1 else ("opening", "sliding", "split")
    return replace(
        asked,
        rupture=_more(asked.rupture, shares["fibre"]),
        splits=tuple(_more(one, shares[way]) for one, way in zip(asked.splits, ways, strict=True)),
        beside=replace(asked.beside, clear=limb * asked.beside.clear),
    )


def _more(one: Demand, share: float) -> Demand:
    return replace(one, low=share * one.low, typical=share * one.typical, high=share * one.high)


def _limb_share(now: LocalProblem, then: LocalProblem) -> float:
    """Return strength used by the limb without the zone over that at the draw of the verdict."""
    if now.limb is None or then.limb is None or then.limb.used <= 0.0:
        return 1.0
    return now.limb.used / then.limb.used


def _log(value: Array | float) -> Array:
    out: Array = np.log(np.clip(value, 1e-9, 1e9))
    return out


def _crossing(lengths: Array, curve: Array) -> float | None:
    """Return where a falling curve first comes to 0, at the earliest at the first length."""
    if curve[0] <= 0.0:
        return float(lengths[0])
    if curve[-1] > 0.0:
        return None
    k = int(np.argmax(curve <= 0.0))
    share = curve[k - 1] / (curve[k - 1] - curve[k])
    return float(lengths[k - 1] + share * (lengths[k] - lengths[k - 1]))
