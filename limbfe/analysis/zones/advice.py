"""What would make a zone sound, worked out by trying it.

Draw length and weight follow from the states of the draw.  Width, place and filling are tried on
the layers that lead, by the plate's quick member, with a coarse mesh and without the band; what
such trials say in proportion to a trial of the zone as it is, is taken from the full judgement.  A
width and a place that are advised are judged once more by the plate that judged the zone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from limbfe.analysis.zones.changed import filled, moved, widened
from limbfe.defect.strip import half_extent
from limbfe.defect.zone import KnotTrace
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.failure.beside import beside_knot
from limbfe.failure.local import judge_zone
from limbfe.failure.problem import DepthLayer, LocalOutcome, LocalProblem, Place, trace_of
from limbfe.failure.verdict import (
    MODE_NAMES,
    SOUND_CHANCE,
    SoundLimit,
    breaking_used,
    governing_mode,
    judge,
    sound_limits,
)
from limbfe.stave.knot import SWIRL_REACH
from limbfe.stave.knot_wood import EPOXY
from limbfe.units import Force, Length, Quantity, Sentence, Words, join

TRIAL_ELEMENT = 1e-3
"""Element side (m) at the zone in trials: half as much again as the judgement's."""
WIDEST = 1.5
"""Advice on width looks no further than this many times the width there: more is a lump, or another
stave."""
LEAST_STEP = 1.15
"""Least widening that is tried: below it a trial's own scatter would pass for its effect."""
SURELY = 0.995
"""Part of the load at which a zone ceases to be sound that is named: draw lengths are read off
between the states of the draw."""
SPLITS_SLOWER = 0.8
"""Power of the load at which a split runs that its gain is credited with in a trial."""
CAREFUL = 1.05
"""Widening is rounded up by this factor: the quick member is a few per cent off the full one."""
QUARTERS = 4
"""Parts of the way between two places of the centre line to which the least move is found."""
NO_PULL = 5.0
"""A bow that pulls less (N) is as good as at brace."""
CENTRED = 0.1
"""A zone closer than this part of the width to the middle of the limb is left there."""

Change = Callable[[LocalProblem], LocalProblem]
Reach = Callable[[float, Place], tuple[float, float] | None]
"""From a load factor and a place to the draw length and weight at which the strain there is that
part of what was judged."""


def advise(
    problem: LocalProblem, outcome: LocalOutcome, reach: Reach, braced: float, *, movable: bool
) -> Words:
    """Return what would make a zone sound.

    Parameters
    ----------
    problem : LocalProblem
    outcome : LocalOutcome
        Of the whole problem.
    reach : callable
        Draw length (m) and weight (N) of a load factor; None beyond the states that are known.
    braced : float, m
        Draw length of the braced bow.
    movable : bool
        Whether the strip lies in the face, so that the centre line can be moved in its plane.
    """
    verdict = judge(outcome)
    if verdict == "sound":
        return "leave it as it is"
    parts: list[Words] = [*_section_advice(outcome)]
    crushed = outcome.modes["yield"].typical >= 1.0
    limits = sound_limits(outcome)
    passed = [one.mark for one in limits if one.factor <= 1.0 and one.mark != "break"]
    if passed == ["crushing"]:
        parts.append(
            "the belly there is shortened so far that wrinkles (frets) may show: it takes a set "
            "rather than breaking"
        )
    if verdict == "watch" and [mark for mark in passed if mark != "crushing"] == ["chance"]:
        parts.append(
            "wood of typical strength holds, but it adds more than 1 in "
            f"{1.0 / SOUND_CHANCE:.0f} to the chance that this bow breaks: exercise the bow slowly "
            "and look at it often"
        )
    parts.append(_draw_advice(reach(SURELY * limits[0].factor, limits[0].place), braced))
    hinge = any(
        one.mark != "crushing" and one.place.station is not None and one.factor <= 1.0
        for one in limits
    )
    if passed != ["crushing"] and not hinge:
        # where the limb itself gives way, another width or place of the zone would not help it
        trials = _Trials(problem, outcome, limits)
        if trials.as_it_is > 0.0:
            parts.extend(_trial_advice(trials, movable))
    if crushed and passed != ["crushing"]:
        parts.append("wrinkles (frets) may show on the belly there besides, and it takes a set")
    if verdict == "expect a split":
        parts.append("a wrapping of thread in glue may keep it shut: common practice, not computed")
    if verdict == "expect rupture":
        parts.append("do not draw this bow to the length that was asked for")
    return join("; ", parts)


def _section_advice(outcome: LocalOutcome) -> Iterator[str]:
    """Say so where the bow's own section is worked harder than the wood of the layers."""
    first = governing_mode(outcome)
    if first.station is not None:
        yield (
            f"the limb itself is worked to {first.typical:.0%} there ({MODE_NAMES[first.mode]}), "
            "by its own section: leave more wood"
        )


def _trial_advice(trials: _Trials, movable: bool) -> Iterator[Words]:
    yield _width_advice(trials)
    if movable:
        yield _place_advice(trials)
    if any(k.state in ("missing", "dead") for k in trials.own_knots()):
        yield _filling_advice(trials)


def _draw_advice(reached: tuple[float, float] | None, braced: float) -> Words:
    if reached is None or reached[0] <= braced or reached[1] < NO_PULL:
        return "it is not sound even at brace"
    length, force = reached
    return Sentence(
        "it is sound up to a draw of {}, where the bow pulls {}",
        Length(1e-3 * np.floor(1e3 * length)),
        Force(force),
    )


def _reaches(piece: DepthLayer, problem: LocalProblem) -> bool:
    """Return whether the judged zone itself, and not its swirl alone, lies at a depth."""
    names = [k.name for k in piece.knots] + [d.name for d in piece.decays]
    return problem.zone in names


class _Trials:
    """A zone to be changed and judged again: on the layers that lead, without the band.

    Attributes
    ----------
    focus : Ellipse
        The zone.
    used : float
        Load over that at which the zone, as it is, would be sound but for crushing.
    as_it_is : float
        The same as a trial has it, but for a factor that all trials share.
    as_verified : float
        As the plate that judged the zone has it.
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
        focus = trace_of(self.piece, problem.zone)
        assert focus is not None
        self.focus = focus
        factor = next(one.factor for one in limits if one.mark != "crushing")
        self.used = 1.0 / factor if factor > 0.0 else np.inf
        crushed = any(one.mark == "crushing" and one.factor <= 1.0 for one in limits)
        self.goal = f"make it sound{' but for the wrinkled belly' if crushed else ''}"
        self.whole = replace(problem, layers=near, sections=(), rough=True)
        self.problem = replace(self.whole, element_size=TRIAL_ELEMENT, member="quick")
        # of a zone whose split was followed the one that leads is tried: its fibres or the split
        self.followed = outcome.grain_split is not None
        fibre, split = outcome.modes["fibre"], outcome.modes["split"]
        self.splits = self.followed and split.typical > fibre.typical
        self.as_it_is = self._typical(self.problem)
        self.as_verified = self.as_it_is if self.splits else self._typical(self.whole)

    def _typical(self, problem: LocalProblem) -> float:
        if self.splits:
            try:
                followed = beside_knot(replace(problem, rough=False))
            except (GeometryError, ConvergenceError):
                return np.inf
            if followed is None:
                return np.inf
            # the chance that it runs falls slower than the load: what is left must be less
            return float((1.0 / followed.run) ** SPLITS_SLOWER)
        outcome = judge_zone(problem)
        return outcome.modes["fibre"].typical if self.followed else breaking_used(outcome)[1]

    def try_out(self, change: Change) -> float:
        """Return the load over the sound load after a change; inf where it cannot exist."""
        try:
            return self.used * self._typical(change(self.problem)) / self.as_it_is
        except (GeometryError, ConvergenceError):
            return float("inf")

    def verify(self, change: Change) -> float:
        """Return the same by the plate that judged the zone as it is."""
        try:
            return self.used * self._typical(change(self.whole)) / self.as_verified
        except (GeometryError, ConvergenceError):
            return float("inf")

    def width(self) -> float:
        """Return the width of the limb at the zone, m."""
        stave = self.problem.body.wood.stave
        return float(np.interp(self.focus.x, stave.x, stave.width))

    def offset(self) -> float:
        """Return how far the zone lies from the middle of the limb towards larger y, m."""
        strip = self.piece.strip
        return self.focus.y - float(
            np.interp(self.focus.x, strip.x, 0.5 * (strip.left + strip.right))
        )

    def own_knots(self) -> tuple[KnotTrace, ...]:
        """Return the judged zone's knot in the layer, if it is one."""
        return tuple(k for k in self.piece.knots if k.name == self.problem.zone)


def _width_advice(trials: _Trials) -> Words:
    """Return the width that makes the zone sound.

    Strain falls as the width grows and the zone's share of the width falls too, nearly as powers
    of the width, so that two trials along that power are enough.
    """
    scale = float(np.clip(trials.used, LEAST_STEP, WIDEST))
    for verified in (False, False, True, True):
        gain = trials.used / (trials.verify if verified else trials.try_out)(
            partial(widened, scale=scale)
        )
        if verified and gain >= trials.used:
            break
        wanted = trials.used ** (np.log(scale) / np.log(gain)) if gain > 1.0 else np.inf
        if wanted > WIDEST:
            return f"no width up to {WIDEST:g} times that there would make it sound"
        scale = 1.0 + CAREFUL * max(float(wanted) - 1.0, 0.01)
    more = Length(1e-3 * np.ceil(1e3 * (scale - 1.0) * trials.width()))
    return Sentence(
        "leaving the limb {} wider there, faired out over its width to both sides, would {}",
        more,
        trials.goal,
    )


def _place_advice(trials: _Trials) -> Words:
    """Return how far the centre line would have to move, towards the zone or away from it.

    Towards it, the best that can be had is the zone in the middle of the limb; away from it, the
    zone cut off with only its swirl left in the edge.  A move by more than the limb's width is
    another stave.
    """
    offset = trials.offset()
    away = 1.0 if offset >= 0.0 else -1.0
    half_width = half_extent(trials.focus)[1]
    edge = 0.5 * trials.width() - abs(offset) + half_width
    ways = []
    if abs(offset) > CENTRED * trials.width():
        ways.append((away, 0.0, abs(offset), ""))
    last = min(edge + (SWIRL_REACH - 1.0) * half_width, trials.width())
    if edge < last:
        ways.append((-away, edge, last, ", which cuts it off at the edge,"))
    said = []
    for way, near, far, remark in ways:
        distance = _least_move(trials, -way, near, far)
        if distance is not None:
            side = "right" if way > 0.0 else "left"
            far_enough = Length(1e-3 * np.ceil(1e3 * distance))
            said.append(Sentence("{} to the archer's {}{}", far_enough, side, remark))
    if not said:
        return "no place across the limb would make it sound"
    return Sentence("moving the centre line {} would {}", join(" or ", said), trials.goal)


def _least_move(trials: _Trials, way: float, near: float, far: float) -> float | None:
    """Return the least shift of the zones between two, m, that makes the zone sound, or None.

    To a quarter of the distance between the two.  The place tried first is the last quarter before
    a straight line between the known ends falls to the sound load: the load falls steeply at first.
    """

    def used(distance: float) -> float:
        return trials.try_out(partial(moved, shift=way * distance))

    def holds(distance: float) -> float | None:
        """Return the distance, or the last one, if the judgement's own plate finds it sound."""
        for one in (distance, far):
            if trials.verify(partial(moved, shift=way * one)) <= 1.0:
                return one
        return None

    last = used(far)
    if last > 1.0:
        return None
    first = used(near) if near > 0.0 else trials.used
    if first <= 1.0:
        return holds(near)
    share = (first - 1.0) / (first - last) if np.isfinite(first) else 0.5
    quarter = max(int(np.ceil(QUARTERS * share)) - 1, 1)
    step = (far - near) / QUARTERS

    def sound(k: int) -> bool:
        return k == QUARTERS or used(near + k * step) <= 1.0

    if sound(quarter):
        while quarter > 1 and sound(quarter - 1):
            quarter -= 1
    else:
        quarter += 1
        while not sound(quarter):
            quarter += 1
    return holds(near + quarter * step)


def _filling_advice(trials: _Trials) -> Words:
    """Return what filling the hole would change."""
    gain = 1.0 - trials.try_out(filled) / trials.used
    if gain < 0.1:
        return "filling it with epoxy changes next to nothing"
    modulus = Quantity("modulus", EPOXY.E, figures=2)
    return Sentence("filling it with epoxy ({}) would take {:.0%} off the stress", modulus, gain)
