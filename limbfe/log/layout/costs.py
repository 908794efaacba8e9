"""What a place of the centre line costs: zones, grain cut across, spare width, old lines."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from limbfe.curves import Curve
from limbfe.frames import Array
from limbfe.log.laid import closely, keeps_back, spare_wood
from limbfe.log.layout.practice import (
    EDGE,
    FULL_SIZE,
    MIDDLE,
    at_edge,
    in_limb,
    in_middle_third,
)
from limbfe.log.layout.strength import ZoneStrength
from limbfe.log.line import End, Line
from limbfe.log.log import Log, Mark
from limbfe.stave.columns import column_curve
from limbfe.stave.stave import Stave

ZONES = 2.0
"""Cost of a zone at its whole strength; it goes with the fourth power, so that the worst counts."""
GRAIN, STEEP = 3.0, 0.05
"""Cost of grain cut across at `STEEP`, 1 in 20, all along; it goes with the square,
and past 1 in 12 with the sixth power: short steep stretches are what breaks."""
SPARE, HANDY = 0.3, 0.010
"""Cost of no spare width on one side; a fourth of it with `HANDY` (m) to spare."""
BEND = 6.0
"""Cost of a line curved to a radius of 1 m all along; it goes with the square of the curvature."""
WASTE = 0.02
"""Cost of sawing all of the spare length off one end: it only decides between equals."""
KEEP, NEAR = 1.0, 0.003
"""Cost of lying `NEAR` (m) off a line drawn before, all along."""
THROUGH = 1.0 / 0.0005**2
"""1/m2; cost of passing a point that was fixed, over the distance squared."""
PAST_CRACK = 0.020
"""How much further (m) than it shows a crack is taken to run (common practice)."""
SAMPLES = 5
"""Points of a piece of line at which its cost is summed."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rules:
    """What the user asks of the layout; m.

    Attributes
    ----------
    edge, end, straightness : float
        As in the sheet's ``[spare]``.
    upper_end : {"butt", "top"} or None
    cut_butt, cut_top : float or None
    through : tuple of (x, offset)
    drawn : (x, offset) or None
        A line drawn before, which a new one moves from as little as it must.
    """

    edge: float = 0.003
    end: float = 0.025
    straightness: float = 0.006
    upper_end: End | None = None
    cut_butt: float | None = None
    cut_top: float | None = None
    through: tuple[tuple[float, float], ...] = ()
    drawn: tuple[Array, Array] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Task:
    """A stave, a bow and what is asked.

    Attributes
    ----------
    log : Log
    wanted : Stave
        Sizes and outline of the finished bow.
    rules : Rules
    strength : ZoneStrength
    sizes : Curve
        Width and thickness of the bow over its stations, as `limbfe.stave.profile` has them: asked
        for thousands of times in a search.
    """

    log: Log
    wanted: Stave
    rules: Rules
    strength: ZoneStrength
    sizes: Curve = field(init=False, repr=False)

    def __post_init__(self) -> None:
        both = np.stack([self.wanted.width, self.wanted.thickness], axis=1)
        object.__setattr__(self, "sizes", column_curve(self.wanted.x, both, size=True))

    def size_at(self, s: Array | float) -> tuple[Array, Array]:
        """Return width and thickness at stations of the bow, those past its tips as at the tips."""
        sizes = self.sizes(np.minimum(np.maximum(s, self.wanted.x[0]), self.wanted.x[-1]))
        return sizes[..., 0], sizes[..., 1]

    @property
    def length(self) -> float:
        """From nock to nock, m."""
        return float(self.wanted.x[-1] - self.wanted.x[0])

    @property
    def ends(self) -> tuple[End, ...]:
        """The ends that may be up."""
        if self.rules.upper_end is not None:
            return (self.rules.upper_end,)
        return ("top",) if self.alike else ("top", "butt")

    @property
    def arched(self) -> bool:
        """Whether the bow keeps the round back of its stave."""
        return keeps_back(self.log, self.wanted)

    @property
    def alike(self) -> bool:
        """Whether both limbs have the same sizes, so that either end may be up."""
        x, stave = self.wanted.x, self.wanted
        if len(x) % 2 == 0 or not np.allclose(x, -x[::-1]):
            return False
        return all(np.allclose(v, v[::-1]) for v in (stave.width, stave.thickness))

    def reach(self, end: End) -> tuple[float, float]:
        """Return the lengths of the limbs towards the butt and towards the top, m."""
        lower, upper = -float(self.wanted.x[0]), float(self.wanted.x[-1])
        return (lower, upper) if end == "top" else (upper, lower)


def room(task: Task, x: Array, s: Array) -> tuple[Array, Array, Array]:
    """Return how far left and right the line may lie, and the spare depth, shape of `x`, m.

    Parameters
    ----------
    task : Task
    x, s : ndarray, m
        Stations on the stave and on the bow.
    """
    width, thickness = task.size_at(s)
    half = 0.5 * width
    upper, lower = task.log.edges_at(x, 0.0, thickness)
    low = np.maximum(upper[0], lower[0]) + half + task.rules.edge
    high = np.minimum(upper[1], lower[1]) - half - task.rules.edge
    depth = task.log.at("depth", x) - thickness - task.rules.edge
    return low, high, depth


def shortfall(task: Task, line: Line) -> Array:
    """Return how much wood a line lacks beside and below it, of each of its pieces, shape (n - 1,).

    It is measured along the line as it is drawn, a spline, where `lay` reports it from; m.
    """
    x = closely(line)
    width, thickness = task.size_at(line.along(x))
    spare = spare_wood(task.log, x, line.offset_at(x), line.offset_at(x, 1), width, thickness)
    lacking = task.rules.edge - np.min(spare, axis=0)
    piece = np.clip(np.searchsorted(line.x, x, side="right") - 1, 0, len(line.x) - 2)
    found = np.zeros(len(line.x) - 1)
    np.maximum.at(found, piece, lacking)
    return found


def piece_costs(
    task: Task, end: End, grip: float, x: Array, offsets: Array, more: Array | float = 0.0
) -> Array:
    """Return what every straight piece from node to node costs, shape (n - 1, m, m).

    Parameters
    ----------
    task : Task
    end : {"butt", "top"}
    grip : float, m
        Station of the middle of the grip on the stave.
    x : ndarray, shape (n,), m
    offsets : ndarray, shape (n, m), m
    more : ndarray, shape (n - 1,), m
        Wood that a piece leaves besides the edge asked for: the line bends beside it.
    """
    way = 1.0 if end == "top" else -1.0
    share = (np.arange(SAMPLES) + 0.5) / SAMPLES
    at = x[:-1, None] + share * np.diff(x)[:, None]
    a, b = offsets[:-1, :, None, None], offsets[1:, None, :, None]
    y = a + (b - a) * share
    slope = (b - a) / np.diff(x)[:, None, None, None]
    stations = at[:, None, None, :]
    width, thickness = task.size_at(way * (stations - grip))
    half = 0.5 * width[:, 0, 0, :]
    least = task.rules.edge + np.reshape(more, (-1, 1, 1, 1)) - 1e-9
    left, right, below = spare_wood(task.log, stations, y, slope, width, thickness)
    fits = (left >= least) & (right >= least) & (below >= least)
    spare = sum((HANDY / (np.maximum(side, 0.0) + HANDY)) ** 2 for side in (left, right))
    grain = ((slope - task.log.fibre_slope(at)[:, None, None, :]) / STEEP) ** 2
    density = SPARE * spare + GRAIN * (grain + (grain / 3.0) ** 3)
    if task.rules.drawn is not None:
        old = np.interp(at, *task.rules.drawn)[:, None, None, :]
        density = density + KEEP * ((y - old) / NEAR) ** 2
    mean = np.where(fits, density, np.inf).mean(axis=-1)
    cost: Array = mean * np.diff(x)[:, None, None] / task.length
    _add_cracks(task, cost, at, y, half)
    _add_points(task, end, grip, x, offsets, cost)
    return cost


def _add_cracks(task: Task, cost: Array, at: Array, y: Array, half: Array) -> None:
    """Close the pieces that a crack would cut into."""
    for crack in task.log.cracks:
        run = np.clip((at - crack.start) / (crack.end - crack.start), 0.0, 1.0)
        place = crack.across + run * (crack.across_end - crack.across)
        near = (at > crack.start - PAST_CRACK) & (at < crack.end + PAST_CRACK)
        clear = half + task.rules.edge
        hit = near[:, None, None, :] & (
            np.abs(y - place[:, None, None, :]) < clear[:, None, None, :]
        )
        cost[np.any(hit, axis=-1)] = np.inf


def _add_points(task: Task, end: End, grip: float, x: Array, offsets: Array, cost: Array) -> None:
    """Add what hangs on the line's offset at one station: knots, patches, points to pass."""

    def offset_near(station: float) -> tuple[int, Array] | None:
        if not x[0] <= station <= x[-1]:
            return None
        k = int(np.clip(np.searchsorted(x, station) - 1, 0, len(x) - 2))
        share = (station - x[k]) / (x[k + 1] - x[k])
        return k, (1.0 - share) * offsets[k][:, None] + share * offsets[k + 1][None, :]

    for station, offset in task.rules.through:
        found = offset_near(station)
        if found is not None:
            cost[found[0]] += THROUGH * (found[1] - offset) ** 2
    for mark in zone_marks(task.log):
        found = offset_near(mark.x)
        if found is None:
            continue
        met = meet(task, mark, end, grip, found[1])
        cost[found[0]] += ZONES * _used(task, met) ** 4 + practice_cost(task, met)


def zone_marks(log: Log) -> tuple[Mark, ...]:
    """Return the knots, and the patches of rot as dead knots as wide: at least as bad."""
    patches = tuple(
        Mark(
            name=patch.name,
            x=patch.x,
            across=patch.across,
            face=patch.face,
            diameter=patch.width,
            lean=0.0,
            state="dead",
        )
        for patch in log.patches
    )
    return (*log.marks, *patches)


def zone_used(task: Task, mark: Mark, end: End, grip: float, offset: Array) -> Array:
    """Return the strength that a knot uses if the line passes it at `offset`, shape of that.

    Parameters
    ----------
    task : Task
    mark : Mark
    end : {"butt", "top"}
    grip : float, m
    offset : ndarray, m
    """
    return _used(task, meet(task, mark, end, grip, offset))


class Met(NamedTuple):
    """A knot as a limb meets it: station on the bow, the limb's sizes there, see `on_the_back`."""

    mark: Mark
    s: float
    width: float
    thickness: float
    across: Array
    diameter: Array
    depth: Array


def meet(task: Task, mark: Mark, end: End, grip: float, offset: Array) -> Met:
    """Return how a limb whose line passes a knot at `offset` meets it; see `zone_used`."""
    s = (mark.x - grip) * (1.0 if end == "top" else -1.0)
    width, thickness = (float(size) for size in task.size_at(s))
    across, diameter, depth = on_the_back(task.log, mark, offset, arched=task.arched)
    return Met(mark, s, width, thickness, across, diameter, depth)


def _used(task: Task, met: Met) -> Array:
    size, place = met.diameter / met.width, met.across / (0.5 * met.width)
    used = task.strength.used(met.mark.state, met.s, size, place)
    return np.where(met.depth < met.thickness, used, 0.0)


def share_of_width(task: Task, mark: Mark, end: End, grip: float) -> float:
    """Return the size of a knot over the limb's width; 0 off the bow.

    0 too for one that no line within the edges can meet.
    """
    s = (mark.x - grip) * (1.0 if end == "top" else -1.0)
    if not task.wanted.x[0] < s < task.wanted.x[-1]:
        return 0.0
    width, thickness = (float(size) for size in task.size_at(s))
    low, high, _ = room(task, np.array([mark.x]), np.array([s]))
    offset = np.linspace(float(low[0]), float(high[0]), 9)
    across, diameter, depth = on_the_back(task.log, mark, offset, arched=task.arched)
    met = (np.abs(across) < 0.5 * (width + diameter)) & (depth < thickness)
    if not np.any(met):
        return 0.0
    return float(diameter[met].max()) / width


def practice_cost(task: Task, met: Met) -> Array:
    """Return what a knot costs by common practice alone.

    It is looked at on the back and half way through the limb, where a branch from the
    pith lies nearer to the middle.
    """
    mark, s, width, thickness, across, diameter, depth = met
    half, tip = 0.5 * width, float(task.wanted.x[-1] if s >= 0.0 else -task.wanted.x[0])
    deep = 1.0 - 0.5 * thickness / float(task.log.at("pith", mark.x)) if task.log.round else 1.0
    edge = np.maximum(
        at_edge(across, 0.5 * diameter, half), at_edge(deep * across, 0.5 * deep * diameter, half)
    )
    strained = task.strength.strained(s)
    cost = EDGE * strained * edge * np.clip(diameter / (FULL_SIZE * width), 0.0, 1.0)
    cost = cost + MIDDLE * in_middle_third(abs(s) / tip) * in_limb(across, 0.5 * diameter, half)
    return np.where((depth < thickness) & (abs(s) < tip), cost, 0.0)


def on_the_back(log: Log, mark: Mark, offset: Array, *, arched: bool) -> tuple[Array, Array, Array]:
    """Return where a branch meets the back of a limb, its diameter there and its depth, m.

    Parameters
    ----------
    log : Log
    mark : Mark
    offset : ndarray, m
        Of the line at the mark's station.
    arched : bool
        Whether the limb keeps the round back of its stave.

    Returns
    -------
    across, diameter : ndarray, shape of `offset`
        From the line, on the back, or on its plane where that is flat; a branch that runs in level
        from a side of a stave without a pith counts as lying in the middle of the limb.
    depth : ndarray
        Below the back at which it begins: 0 but for such branches.
    """
    nothing = np.zeros(np.shape(offset))
    if not log.round:
        if mark.face in ("left", "right"):
            return nothing, nothing + mark.diameter, nothing + mark.across
        return mark.across - offset, nothing + mark.diameter, nothing
    radius, angle, reach, sine = _branch_from_pith(log, mark)
    turned = np.clip(angle - offset / radius, -1.3, 1.3)
    if arched:
        return radius * np.sin(turned), nothing + mark.diameter * sine * radius / reach, nothing
    cosine = np.cos(turned)
    diameter = mark.diameter * sine * (radius / cosine / reach) / cosine
    return radius * np.tan(turned), diameter, nothing


@lru_cache(maxsize=64)
def _branch_from_pith(log: Log, mark: Mark) -> tuple[float, float, float, float]:
    """Return how a branch lies under a round back, whatever line is looked at.

    Depth of the pith (m), the branch's angle from the line that was snapped, how far from the pith
    it shows (m), and the sine of the angle at which the surface cuts it there.
    """
    radius = float(log.at("pith", mark.x))
    if mark.face == "back":
        return radius, mark.across / radius, radius, 1.0
    left, right = log.edges(mark.x, mark.across if mark.face in ("left", "right") else 0.0)
    pith = float(log.at("pith_across", mark.x))
    sides = {"left": float(left), "right": float(right)}
    seen = sides.get(mark.face, mark.across)
    down = mark.across if mark.face in sides else float(log.at("depth", mark.x))
    reach = float(np.hypot(seen - pith, radius - down))
    angle = float(np.arctan2(seen - pith, radius - down)) + pith / radius
    sine = abs(seen - pith if mark.face in sides else radius - down) / reach
    return radius, angle, reach, sine
