"""The search: which end is up, where along the stave, and which line.

Every position is tried on a coarse grid; the best are followed on finer and finer grids round what
was found, until the steps are those of a sharp pencil.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial

import numpy as np

from limbfe.errors import GeometryError
from limbfe.frames import Array
from limbfe.log.layout.costs import (
    BEND,
    PAST_CRACK,
    WASTE,
    Task,
    piece_costs,
    room,
    shortfall,
    zone_marks,
    zone_used,
)
from limbfe.log.layout.grid import Choices, cheapest_line
from limbfe.log.layout.practice import CHECK, beside_check
from limbfe.log.line import End, Line
from limbfe.units import both_lengths

NODES = 0.085
"""Longest step (m) between the nodes of a line."""
COARSE, FINE = 11, 9
"""Offsets to choose from at a node, first and in the refinements."""
POSITIONS = 15
"""Places along the stave that are tried for either end, at the most."""
STEP = 0.010
"""Step (m) between them at the least."""
ROUNDS, MOST_TURNS, GAIN = 4, 12, 0.003
"""Finenesses of the refinement, tries at each at the most, and the gain that is worth another."""
FOLLOWED = 6
"""Best positions of the coarse search that are refined."""
MOST_SHIFTS, LACKING = 6, 1e-7
"""Times that pieces are kept further from an edge which the line between their nodes bulges over,
and what it may lack (m)."""
APART, ASIDE = 0.030, 0.004
"""Two layouts are the same one if their grips lie nearer along the stave, and their lines nearer
aside, than this (m)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """A line that was found, and what it costs."""

    line: Line
    cost: float


Each = Callable[[Callable[["Found"], "Found | None"], list["Found"]], Iterable["Found | None"]]
"""What refines several lines: `map`, or one that shares them out."""


def search(
    task: Task,
    wanted: int = 3,
    tell: Callable[[int, int], None] | None = None,
    each: Each = map,
) -> tuple[Found, ...]:
    """Return the best lines, different from each other, the best first.

    Parameters
    ----------
    task : Task
    wanted : int
        How many; fewer come where there are not so many.
    tell : callable, optional
        Told how many of how many positions are tried.
    each : callable, optional
        From a function and lines to what it finds of each, in their order.

    Raises
    ------
    GeometryError
        If no line can lie; says where and by how much, and what fits.
    """
    places = [(end, float(grip)) for end in task.ends for grip in positions(task, end)]
    if not places:
        raise _no_room_along(task)
    coarse: list[Found] = []
    for k, (end, grip) in enumerate(places):
        found = _coarse(task, end, grip)
        if found is not None:
            coarse.append(found)
        if tell is not None:
            tell(k + 1, len(places))
    if not coarse:
        raise no_line(task, places)
    coarse.sort(key=lambda one: one.cost)
    tried = each(partial(_refine, task), _different(coarse, FOLLOWED))
    refined = [one for one in tried if one is not None]
    if not refined:
        raise no_line(task, places)
    refined.sort(key=lambda one: one.cost)
    return tuple(_different(refined, wanted))


def positions(task: Task, end: End) -> Array:
    """Return the stations of the grip that are tried, growing, m."""
    to_butt, to_top = task.reach(end)
    rules, length = task.rules, task.log.length
    if rules.cut_butt is not None:
        places = np.array([rules.cut_butt + to_butt])
    elif rules.cut_top is not None:
        places = np.array([length - rules.cut_top - to_top])
    else:
        low, high = rules.end + to_butt, length - rules.end - to_top
        if high < low:
            return np.zeros(0)
        count = int(min(POSITIONS, np.floor((high - low) / STEP) + 1))
        # an odd number keeps the middle, and with it a clear stave, where it is
        count += 1 - count % 2
        places = np.linspace(low, high, count) if count > 1 else np.array([0.5 * (low + high)])
    fits = (places - to_butt >= -1e-9) & (places + to_top <= length + 1e-9)
    inside: Array = places[fits]
    return inside


def nodes(task: Task, end: End, grip: float) -> tuple[Array, int]:
    """Return the nodes of a line, growing, and which of them is the middle of the grip."""
    to_butt, to_top = task.reach(end)
    below = int(np.ceil(to_butt / NODES)) + 1
    above = int(np.ceil(to_top / NODES)) + 1
    low, high = (
        np.linspace(grip - to_butt, grip, below),
        np.linspace(grip, grip + to_top, above),
    )
    return np.concatenate([low, high[1:]]), below - 1


def _coarse(task: Task, end: End, grip: float) -> Found | None:
    x, _ = nodes(task, end, grip)
    way = 1.0 if end == "top" else -1.0
    low, high, depth = room(task, x, way * (x - grip))
    if np.any(high < low) or np.any(depth < 0.0):
        return None
    offsets = np.linspace(low, high, COARSE, axis=1)
    step = float(np.max(high - low)) / (COARSE - 1)
    tolerance = task.rules.straightness + 0.5 * step
    return _solve(task, end, grip, offsets, tolerance)


def _solve(
    task: Task, end: End, grip: float, offsets: Array, tolerance: float, more: Array | float = 0.0
) -> Found | None:
    x, middle = nodes(task, end, grip)
    pieces = piece_costs(task, end, grip, x, offsets, more)
    choices = Choices(
        x=x,
        offsets=offsets,
        pieces=pieces + _along(task, end, grip) / len(pieces),
        stiffness=BEND / task.length,
        grip=middle,
        tolerance=tolerance,
    )
    best = cheapest_line(choices)
    if best is None:
        return None
    cost, chosen = best
    lower, upper = -float(task.wanted.x[0]), float(task.wanted.x[-1])
    line = Line(
        grip=grip,
        upper_end=end,
        lower=lower,
        upper=upper,
        x=x,
        offset=offsets[np.arange(len(x)), chosen],
    )
    return Found(line=line, cost=cost)


def _along(task: Task, end: End, grip: float) -> float:
    """Return what the place along the stave costs: unequal waste, checks that are not sawn off."""
    to_butt, to_top = task.reach(end)
    butt, top = grip - to_butt, task.log.length - grip - to_top
    spare = max(butt + top, 1e-9)
    low, high = grip - to_butt, grip + to_top
    checked = sum(
        beside_check(low, high, (crack.start - PAST_CRACK, crack.end + PAST_CRACK))
        for crack in task.log.cracks
    )
    return WASTE * ((butt - top) / spare) ** 2 + CHECK * checked


def _refine(task: Task, found: Found) -> Found | None:
    """Return a line refined on finer grids: aside, and along the stave where that is free.

    None where none that is near keeps what is asked of it.
    """
    rules = task.rules
    free = rules.cut_butt is None and rules.cut_top is None
    places = positions(task, found.line.upper_end)
    shift = float(places[1] - places[0]) / 2.0 if free and len(places) > 1 else 0.0
    best, holds = found, _holds(task, found.line)
    spread = _width(task, found.line) / (COARSE - 1)
    turns, at_this = 0, 0
    while turns < ROUNDS:
        tries = [_nearby(task, best.line, best.line.grip, spread)]
        if shift >= 1e-3:
            for grip in (best.line.grip - shift, best.line.grip + shift):
                if places[0] - 1e-9 <= grip <= places[-1] + 1e-9:
                    tries.append(_nearby(task, best.line, float(grip), spread))
        better = [one for one in tries if one is not None]
        gained = 0.0
        if better:
            nearest = min(better, key=lambda one: one.cost)
            gained = best.cost - nearest.cost
            if gained > 0.0 or not holds:
                best, holds = nearest, True
        at_this += 1
        if gained <= GAIN * abs(best.cost) or at_this == MOST_TURNS:
            spread, shift = spread / 3.0, shift / 2.0
            turns, at_this = turns + 1, 0
    return best if holds else None


def _width(task: Task, line: Line) -> float:
    low, high, _ = room(task, line.x, line.sign * (line.x - line.grip))
    return float(np.max(high - low))


def _nearby(task: Task, line: Line, grip: float, spread: float) -> Found | None:
    """Return the best line within `spread` of one at every node, the grip perhaps moved along."""
    end = line.upper_end
    x, _ = nodes(task, end, grip)
    low, high, depth = room(task, x, line.sign * (x - grip))
    if np.any(high < low) or np.any(depth < 0.0):
        return None
    around = np.clip(line.offset_at(x), low, high)
    offsets = around[:, None] + spread * np.linspace(-1.0, 1.0, FINE)
    more = np.zeros(len(x) - 1)
    for _ in range(MOST_SHIFTS):
        found = _solve(task, end, grip, offsets, task.rules.straightness, more)
        if found is None:
            return None
        lacking = shortfall(task, found.line)
        if lacking.max() <= LACKING:
            return found
        more += lacking
    return None


def _holds(task: Task, line: Line) -> bool:
    """Return whether a line is as straight as asked, and leaves as much wood everywhere."""
    straight = abs(line.grip_off) <= task.rules.straightness + 1e-6
    return straight and float(shortfall(task, line).max()) <= LACKING


def _different(found: list[Found], count: int) -> list[Found]:
    """Return the first lines that differ from those before them."""
    kept: list[Found] = []
    for one in found:
        if all(_differ(one.line, other.line) for other in kept):
            kept.append(one)
        if len(kept) == count:
            break
    return kept


def _differ(one: Line, other: Line) -> bool:
    if one.upper_end != other.upper_end or abs(one.grip - other.grip) > APART:
        return True
    low, high = max(one.x[0], other.x[0]), min(one.x[-1], other.x[-1])
    x = np.linspace(low, high, 101)
    return bool(np.max(np.abs(one.offset_at(x) - other.offset_at(x))) > ASIDE)


def worst_zone(task: Task, line: Line) -> float:
    """Return the largest strength that a knot or patch uses by the table, 0 without one."""
    found = [
        float(zone_used(task, mark, line.upper_end, line.grip, line.offset_at(mark.x)))
        for mark in zone_marks(task.log)
        if line.x[0] < mark.x < line.x[-1]
    ]
    return max(found, default=0.0)


def _no_room_along(task: Task) -> GeometryError:
    rules, spare = task.rules, task.log.length - task.length
    if rules.cut_butt is not None or rules.cut_top is not None:
        key = "cut_butt" if rules.cut_butt is not None else "cut_top"
        return GeometryError(
            f"{key}: leaves too little stave: the bow is {both_lengths(task.length)} long, the "
            f"stave {both_lengths(task.log.length)}; saw off at most {both_lengths(spare)}"
        )
    return GeometryError(
        f"the bow is {both_lengths(task.length)} long and leaves {both_lengths(spare)} of the "
        f"stave, less than {both_lengths(rules.end)} at each end; shorten it or lower end"
    )


def no_line(task: Task, places: list[tuple[End, float]]) -> GeometryError:
    """Return why no line can lie, by the position that comes nearest to it."""
    nearest: tuple[float, float, float, float, str] | None = None
    for end, at in places:
        grip = float(at)
        x = np.linspace(grip - task.reach(end)[0], grip + task.reach(end)[1], 201)
        s = (x - grip) * (1.0 if end == "top" else -1.0)
        low, high, depth = room(task, x, s)
        lacking: list[tuple[Array, str]] = [(low - high, "wide"), (-depth, "thick")]
        for short, word in lacking:
            k = int(np.argmax(short))
            if short[k] > 0.0 and (nearest is None or short[k] < nearest[0]):
                size = float(_size(task, float(s[k]), word))
                nearest = (float(short[k]), float(x[k]), size, float(grip), word)
    if nearest is None:
        return GeometryError(
            "no line can lie: the cracks, the points that were fixed, the depth beside the top of "
            "a round back and the straightness of tips and grip within "
            f"{both_lengths(task.rules.straightness)} leave none between the edges; allow more "
            "straightness, or move what was fixed"
        )
    missing, x_worst, size, _, word = nearest
    return GeometryError(
        f"the bow is too {word} for any line: {both_lengths(x_worst)} from the butt it is "
        f"{both_lengths(size)} {word} and, with {both_lengths(task.rules.edge)} left beside it, "
        f"{both_lengths(missing)} of wood are missing; {both_lengths(size - missing)} fits there"
    )


def _size(task: Task, s: float, word: str) -> float:
    width, thickness = task.size_at(s)
    return float(width if word == "wide" else thickness)
