"""Trials of a zone in a limb that is changed: how its load then stands to a sound one.

They are made on the layers that lead, with a coarse mesh and without the band: first by the plate's
quick member, in which the belly is as soft as the bow's own sections have it; then, for what is to
be advised, by the full one, whose belly is crushed anew by what the changed limb strains it.  Of
either only the proportion to a trial of the zone as it is counts.  The load is that of the bow as
it is: some more width over a hand's breadth makes a bow hardly stiffer.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from limbfe.defect.strip import half_extent
from limbfe.defect.zone import KnotTrace
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.failure.beside import beside_knot, in_the_edge
from limbfe.failure.local import judge_zone
from limbfe.failure.problem import DepthLayer, LocalOutcome, LocalProblem, trace_of
from limbfe.failure.splits.grain_split import GrainSplit
from limbfe.failure.verdict import SoundLimit, breaking_used

TRIAL_ELEMENT = 1e-3
"""Element side (m) at the zone in trials: half as much again as the judgement's."""
SPLITS_SLOWER = 0.8
"""Power of the load at which a split runs that its gain is credited with in a trial."""

Change = partial[LocalProblem]
"""Of a problem, by name and sizes, so that the same is not tried twice."""


def _run(followed: GrainSplit) -> float:
    """Return what a trial compares of a split."""
    # the chance that it runs falls slower than the load: what is left must be less
    return float((1.0 / followed.run) ** SPLITS_SLOWER)


def _reaches(piece: DepthLayer, problem: LocalProblem) -> bool:
    """Return whether the judged zone itself, and not its swirl alone, lies at a depth."""
    names = [k.name for k in piece.knots] + [d.name for d in piece.decays]
    return problem.zone in names


class Trials:
    """A zone to be changed and judged again: on the layers that lead, without the band.

    Attributes
    ----------
    focus : Ellipse
        The zone.
    used : float
        Load over that at which the zone, as it is, would be sound but for crushing, and for an edge
        that cuts it.
    as_it_is : float
        The same as a trial has it, but for a factor that all trials share.
    goal : str
        What a trial that finds `used` to be 1 would do, in words.
    """

    def __init__(
        self, problem: LocalProblem, outcome: LocalOutcome, limits: tuple[SoundLimit, ...]
    ) -> None:
        leading = {outcome.modes[mode].z for mode in ("fibre", "split")}
        own = [one for one in problem.layers if _reaches(one, problem)] or problem.layers
        near = tuple(min(own, key=lambda one: abs(one.z - z)) for z in leading)
        self.piece = near[0]
        self._known: dict[tuple[object, ...], float] = {}
        focus = trace_of(self.piece, problem.zone)
        assert focus is not None
        self.focus = focus
        factor = next(one.factor for one in limits if one.mark not in ("crushing", "stress"))
        self.used = 1.0 / factor if factor > 0.0 else np.inf
        crushed = any(one.mark == "crushing" and one.factor <= 1.0 for one in limits)
        self.goal = f"make it sound{' but for the wrinkled belly' if crushed else ''}"
        self.whole = replace(
            problem, layers=near, sections=(), rough=True, element_size=TRIAL_ELEMENT
        )
        self.problem = replace(self.whole, member="quick")
        # of a zone whose split was followed the one that leads is tried: its fibres or the split
        self.followed = outcome.grain_split is not None
        fibre, split = outcome.modes["fibre"], outcome.modes["split"]
        self.splits = self.followed and split.typical > fibre.typical
        self._stress = max(outcome.modes[way].typical for way in ("opening", "sliding"))
        if self.splits and outcome.grain_split is not None:
            self.as_it_is = _run(outcome.grain_split)
        else:
            self.as_it_is = self._typical(self.problem)
        # the plate that verifies is needed only once something promises to help
        self._verified: float | None = None

    def _typical(self, problem: LocalProblem) -> float:
        if self.splits:
            try:
                followed = beside_knot(replace(problem, rough=False), self._stress)
            except (GeometryError, ConvergenceError):
                return np.inf
            return np.inf if followed is None else _run(followed)
        outcome = judge_zone(problem)
        return outcome.modes["fibre"].typical if self.followed else breaking_used(outcome)[1]

    def try_out(self, change: Change) -> float:
        """Return the load over the sound load after a change; inf where it cannot exist."""
        return self._tried(change, self.problem, self.as_it_is)

    def verify(self, change: Change) -> float:
        """Return the same by the plate that judged the zone as it is; a split has but one plane."""
        if self.splits:
            return self.try_out(change)
        if self._verified is None:
            self._verified = self._typical(self.whole)
        return self._tried(change, self.whole, self._verified)

    def _tried(self, change: Change, problem: LocalProblem, as_it_is: float) -> float:
        key = (problem.member, change.func, *change.keywords.items())
        if key not in self._known:
            try:
                changed = change(problem)
                # no knot that an edge cuts is advised
                left = np.inf if in_the_edge(changed) else self._typical(changed)
                self._known[key] = self.used * left / as_it_is
            except (GeometryError, ConvergenceError):
                self._known[key] = np.inf
        return self._known[key]

    def width(self) -> float:
        """Return the width of the limb at the zone, m."""
        stave = self.problem.body.wood.stave
        return float(np.interp(self.focus.x, stave.x, stave.width))

    def room_along(self) -> float:
        """Return how much limb there is between the zone's ends and the nearer end, m."""
        x = self.problem.body.wood.stave.x
        return float(min(self.focus.x - x[0], x[-1] - self.focus.x)) - half_extent(self.focus)[0]

    def arched(self) -> bool:
        """Return whether the back is arched at the zone."""
        stave = self.problem.body.wood.stave
        crown = stave.outline.crown
        return bool(np.isfinite(crown[np.argmin(np.abs(stave.x - self.focus.x))]))

    def offset(self) -> float:
        """Return how far the zone lies from the middle of the limb towards larger y, m."""
        strip = self.piece.strip
        return self.focus.y - float(
            np.interp(self.focus.x, strip.x, 0.5 * (strip.left + strip.right))
        )

    def own_knots(self) -> tuple[KnotTrace, ...]:
        """Return the judged zone's knot in the layer, if it is one."""
        return tuple(k for k in self.piece.knots if k.name == self.problem.zone)
