"""What would make a zone sound, worked out by trying it.

Draw length and weight follow from the states of the draw.  Width, place and filling are tried on
the worst slice alone, with a coarse mesh and without the band; what such trials say in proportion
to a trial of the zone as it is, is taken from the full judgement.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from limbfe.defect.strip import Ellipse, Strip, half_extent
from limbfe.defect.zone import KnotTrace
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.failure.local import judge_zone
from limbfe.failure.problem import DepthSlice, LocalOutcome, LocalProblem, trace_of
from limbfe.failure.verdict import SOUND_CHANCE, SoundLimit, breaking_used, judge, sound_limits
from limbfe.stave.cone import SWIRL_REACH
from limbfe.stave.knot_wood import EPOXY, FILLER_POISSON
from limbfe.units import both_forces, both_lengths

TRIAL_ELEMENT = 1e-3
"""Element side (m) at the zone in trials: twice the judgement's."""
WIDEST = 2.0
"""Advice on width looks no further than this many times the width there."""
LEAST_STEP = 1.15
"""Least widening that is tried: below it a trial's own scatter would pass for its effect."""
SURELY = 0.995
"""Part of the load at which a zone ceases to be sound that is named: draw lengths are read off
between the states of the draw."""
QUARTERS = 4
"""Parts of the way between two places of the centre line to which the least move is found."""
NO_PULL = 5.0
"""A bow that pulls less (N) is as good as at brace."""
CENTRED = 0.1
"""A zone closer than this part of the width to the middle of the limb is left there."""

Reach = Callable[[float, tuple[float, float]], tuple[float, float] | None]
"""From a load factor and a place (y, z) of the slices to the draw length and weight at which the
strain there is that part of what was judged."""


def advise(
    problem: LocalProblem, outcome: LocalOutcome, reach: Reach, braced: float, *, movable: bool
) -> str:
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
    parts = []
    crushed = outcome.modes["yield"].typical >= 1.0
    limits = sound_limits(outcome)
    passed = [one.mark for one in limits if one.factor <= 1.0]
    if passed == ["crushing"]:
        parts.append(
            "the belly there is pressed past its crushing strain: it yields and takes a set "
            "rather than breaking"
        )
    if passed == ["chance"]:
        parts.append(
            f"wood of typical strength holds, but the chance that this stave is too weak is above "
            f"1 in {1.0 / SOUND_CHANCE:.0f}: exercise the bow slowly and look at it often"
        )
    parts.append(_draw_advice(reach(SURELY * limits[0].factor, limits[0].place), braced))
    if passed != ["crushing"]:
        trials = _Trials(problem, outcome, limits)
        if trials.as_it_is > 0.0:
            parts.extend(_trial_advice(trials, movable))
    if crushed and passed != ["crushing"]:
        parts.append("the belly there is pressed past its crushing strain besides, and takes a set")
    if verdict == "expect rupture":
        parts.append("do not draw this bow to the length that was asked for")
    return "; ".join(parts)


def _trial_advice(trials: _Trials, movable: bool) -> Iterator[str]:
    yield _width_advice(trials)
    if movable:
        yield _place_advice(trials)
    if any(k.state in ("missing", "dead") for k in trials.own_knots()):
        yield _filling_advice(trials)


def _draw_advice(reached: tuple[float, float] | None, braced: float) -> str:
    if reached is None or reached[0] <= braced or reached[1] < NO_PULL:
        return "it is not sound even at brace"
    length, force = reached
    return (
        f"it is sound up to a draw of {both_lengths(1e-3 * np.floor(1e3 * length))}, where "
        f"the bow pulls {both_forces(force)}"
    )


class _Trials:
    """The worst slice of a zone, to be changed and judged again.

    Attributes
    ----------
    piece : DepthSlice
    focus : Ellipse
        The zone in it.
    used : float
        Load over that at which the zone, as it is, would be sound but for crushing.
    as_it_is : float
        The same as a trial has it, but for a factor that all trials share.
    goal : str
        What a trial that finds `used` to be 1 would do, in words.
    """

    def __init__(
        self, problem: LocalProblem, outcome: LocalOutcome, limits: tuple[SoundLimit, ...]
    ) -> None:
        fibre, split = outcome.modes["fibre"], outcome.modes["split"]
        z = fibre.z if fibre.typical >= split.typical else split.z
        self.piece = min(problem.slices, key=lambda one: abs(one.z - z))
        focus = trace_of(self.piece, problem.zone)
        assert focus is not None
        self.focus = focus
        self.used = 1.0 / next(one.factor for one in limits if one.mark != "crushing")
        crushed = any(one.mark == "crushing" and one.factor <= 1.0 for one in limits)
        self.goal = f"make it sound{' but for the crushed belly' if crushed else ''}"
        self.problem = replace(problem, element_size=TRIAL_ELEMENT, rough=True)
        self.as_it_is = self._typical(self.piece)

    def _typical(self, piece: DepthSlice) -> float:
        return breaking_used(judge_zone(replace(self.problem, slices=(piece,))))[1]

    def try_out(self, piece: DepthSlice) -> float:
        """Return the load over the sound load with another slice; inf where it cannot exist."""
        try:
            return self.used * self._typical(piece) / self.as_it_is
        except (GeometryError, ConvergenceError):
            return float("inf")

    def width(self) -> float:
        """Return the width of the slice at the zone, m."""
        strip = self.piece.strip
        return float(np.interp(self.focus.x, strip.x, strip.left - strip.right))

    def offset(self) -> float:
        """Return how far the zone lies from the middle of the limb towards larger y, m."""
        strip = self.piece.strip
        return self.focus.y - float(
            np.interp(self.focus.x, strip.x, 0.5 * (strip.left + strip.right))
        )

    def own_knots(self) -> tuple[KnotTrace, ...]:
        """Return the judged zone's knot in the slice, if it is one."""
        return tuple(k for k in self.piece.knots if k.name == self.problem.zone)


def _width_advice(trials: _Trials) -> str:
    """Return the width that makes the zone sound.

    Strain falls as the width grows and the zone's share of the width falls too, nearly as powers
    of the width, so that two trials along that power are enough.
    """
    scale = float(np.clip(trials.used, LEAST_STEP, WIDEST))
    for _ in range(2):
        gain = trials.used / trials.try_out(widened(trials.piece, scale))
        wanted = trials.used ** (np.log(scale) / np.log(gain)) if gain > 1.0 else np.inf
        if wanted > WIDEST:
            return f"even {WIDEST:.0f} times the width there would not make it sound"
        if abs(wanted - scale) < 0.01 or wanted < LEAST_STEP:
            scale = wanted
            break
        scale = float(wanted)
    more = both_lengths(1e-3 * np.ceil(1e3 * (scale - 1.0) * trials.width()))
    return f"leaving the limb {more} wider there would {trials.goal}"


def widened(piece: DepthSlice, scale: float) -> DepthSlice:
    """Return a slice of a wider limb under the same moment: strain falls as width grows."""
    middle = 0.5 * (piece.strip.left + piece.strip.right)
    half = 0.5 * scale * (piece.strip.left - piece.strip.right)
    strain = piece.strain
    return replace(
        piece,
        strip=Strip(x=piece.strip.x, right=middle - half, left=middle + half),
        strain=replace(
            strain,
            axial=strain.axial / scale,
            axial_slope=strain.axial_slope / scale,
            bending=strain.bending / scale**3,
            bending_slope=strain.bending_slope / scale**3,
            shear=strain.shear / scale,
        ),
    )


def _place_advice(trials: _Trials) -> str:
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
            far_enough = both_lengths(1e-3 * np.ceil(1e3 * distance))
            said.append(f"{far_enough} to the archer's {side}{remark}")
    if not said:
        return "no place across the limb would make it sound"
    return f"moving the centre line {' or '.join(said)} would {trials.goal}"


def _least_move(trials: _Trials, way: float, near: float, far: float) -> float | None:
    """Return the least shift of the zones between two, m, that makes the zone sound, or None.

    To a quarter of the distance between the two.  The place tried first is the last quarter before
    a straight line between the known ends falls to the sound load: the load falls steeply at first.
    """

    def used(distance: float) -> float:
        return trials.try_out(moved(trials.piece, way * distance))

    last = used(far)
    if last > 1.0:
        return None
    first = used(near) if near > 0.0 else trials.used
    if first <= 1.0:
        return near
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
    return near + quarter * step


def moved(piece: DepthSlice, shift: float) -> DepthSlice:
    """Return a slice with every zone moved across the limb, as by another centre line."""

    def there(ellipse: Ellipse) -> Ellipse:
        return replace(ellipse, y=ellipse.y + shift)

    return replace(
        piece,
        knots=tuple(replace(k, ellipse=there(k.ellipse)) for k in piece.knots),
        decays=tuple(replace(d, ellipse=there(d.ellipse)) for d in piece.decays),
    )


def _filling_advice(trials: _Trials) -> str:
    """Return what filling the hole would change."""
    filled = replace(
        trials.piece,
        knots=tuple(
            replace(
                knot,
                state="filled",
                modulus=EPOXY.E,
                poisson=FILLER_POISSON,
                bond_tension=EPOXY.tension,
                bond_shear=EPOXY.shear,
            )
            if knot.name == trials.problem.zone
            else knot
            for knot in trials.piece.knots
        ),
    )
    gain = 1.0 - trials.try_out(filled) / trials.used
    if gain < 0.1:
        return "filling it with epoxy changes next to nothing"
    return f"filling it with epoxy ({EPOXY.E / 1e9:g} GPa) would take {gain:.0%} off the stress"
