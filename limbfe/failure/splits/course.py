"""How a split beside a knot or hole goes as the bow is drawn: start, length, end.

A plane model in the face of the limb that is pulled hardest, under the stress of the sound limb's
back.  Of a bent limb a split is as deep as drives it hardest (`deep_share`): the shallower, the
nearer to the stress of the back all its wood is, but its strip hangs on the wood below, which takes
its load back; through the whole depth the mean square of the stress is left, a third of the back's.
The depth in between, where the wood is hardly pulled and holds the split up, is not counted on.
The layered plate itself is not split.

A limb seen on edge, for a knot that shows on a side, is bent in the plane; its splits go right
through from side to side.  What the shear force adds, alike at all depths of the model, is left
out.

References
----------
Energy of long splits: energy balance of the strips left (tests/fem/cracks/test_strips.py); reach of
a split near the back, (2/pi) sqrt(E_L/G_LR) of its depth: shear lag (from memory).  The depth
against own solids with a free front (tests/failure/splits/test_depth.py).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from limbfe.failure.splits.criterion import GrainStrength, Split, follow
from limbfe.failure.splits.grain_split import GrainSplit, Line, Way
from limbfe.failure.splits.model import Model, fibre_stress, fibre_windows, solve_panel
from limbfe.failure.splits.panel import Opening, Panel, mesh_panel
from limbfe.fem.cracks.closure import Growth, grow
from limbfe.fem.cracks.slit import Slit, release_steps
from limbfe.fem.mesh import Index
from limbfe.frames import Array
from limbfe.wood.elasticity import Elasticity

SHORT = 1.0
"""Of the zone's width: a split longer than this on each side has run (the barrier of a hole lies at
0.6 of its width); one of `SHORT_LENGTH` (m) is short beside any."""
SHORT_LENGTH = 6e-3
REACH = 1.25
"""Widths of the limb past the zone's end to which a split is followed."""
BEYOND = 1.5
"""The same from there to the end of the panel: its plane end would take load off a split nearer
(half a width: energy release 4 to 13 % low)."""
DEEP_SHARE = 1.0 / 3.0
STAGGER = 1.7
"""Times the reach of shear lag: behind its tip a split is deeper than at it (own solids)."""
_DEPTHS = np.geomspace(1e-3, 1.0, 60)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beyond:
    """What a line comes to past the zone.

    Attributes
    ----------
    low, high : float, m
        The band across the limb, from the middle of the strip, in which a line meets it.
    away : float, m
        Where, from the zone's middle.
    words : str
    """

    low: float
    high: float
    away: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Board:
    """The limb in which a split runs.

    Attributes
    ----------
    wood : Elasticity
    strength : GrainStrength
        Of the wood, and of the joint of a live knot.
    depth : float, m
        Thickness of the limb; infinite where it is seen on edge and the split goes right through.
    window : float, m
        Width of the wood by whose mean stress fibres are judged.
    beyond : tuple of Beyond
        Where the wood ends in which the lines run.
    """

    wood: Elasticity
    strength: GrainStrength
    depth: float
    window: float
    beyond: tuple[Beyond, ...] = ()


def follow_split(
    opening: Opening,
    board: Board,
    *,
    pull: float,
    bend: float = 0.0,
    knot: tuple[float, float] | None = None,
    joined: bool = False,
) -> GrainSplit:
    """Follow the split beside a zone.

    Parameters
    ----------
    opening : Opening
    board : Board
    pull : float, Pa
        Stress of the sound limb's back there, or mean stress of a limb on edge.
    bend : float, Pa
        Of a limb on edge, by how much its left edge is pulled more.
    knot : tuple of float, optional
        Young's modulus (Pa) and Poisson's ratio of what is in the zone.
    joined : bool
        Whether that is grown in or glued; else it presses but holds nothing.

    Raises
    ------
    GeometryError
        If no panel can be made.
    ConvergenceError
        If the contact of the faces does not settle.

    Notes
    -----
    A zone right of the middle is followed in the mirror: triangles of its own panel would lie
    otherwise, and answers differ by up to 5e-6.
    """
    if (opening.y, -bend) < (0.0, 0.0):
        there = _mirrored_board(board)
        found = follow_split(
            replace(opening, y=-opening.y), there, pull=pull, bend=-bend, knot=knot, joined=joined
        )
        return _mirrored(found)
    reach = opening.a + REACH * opening.width
    panel = mesh_panel(opening, reach, reach + BEYOND * opening.width)
    load = (pull * opening.width, -bend * opening.width**2 / 6.0)
    model = solve_panel(panel, opening, board.wood, knot, load)
    strength, free = board.strength, model.free
    lines = tuple(_line(panel, slit, reach, board.beyond) for slit in panel.lines)
    every = range(len(lines))
    windows = None if opening.swerves else fibre_windows(panel, opening, board.wood, board.window)
    some = [one for count in reversed(every) for one in combinations(every, count + 1)]

    def way(lines_split: tuple[int, ...]) -> Way:
        step = np.concatenate([np.zeros(model.rim, dtype=np.intp), *_steps(panel, lines_split)])
        plane = grow(model.closure, free, step, panel.tips, tips=len(lines_split))
        growth = _by_depth(plane, board)
        # of two lines the one nearer to an edge, which is loaded more
        first = max(lines_split, key=lambda k: abs(lines[k].side))
        begin = model.rim + 2 * sum(len(s.right) for s in panel.lines[:first])
        slit = panel.lines[first]
        mine = plane.force[0][begin : begin + 2 * len(slit.right)].reshape(2, -1).T
        split = follow(growth, mine, slit.along, strength)
        hardest = int(np.argmax(np.where(split.length >= split.start_length, split.need, 0.0)))
        relieved = np.ones(len(split.length))
        if windows is not None:
            stress = fibre_stress(windows, model, plane)
            relieved = np.interp(split.length, plane.length, stress / stress[0])
        mix = np.arctan2(
            np.sqrt(max(growth.G_II[hardest], 0.0) / strength.sliding),
            np.sqrt(max(growth.G_I[hardest], 0.0) / strength.opening),
        )
        ends = min(lines[k].room for k in lines_split)
        return _ended(Way(split=split, lines=lines_split, mix=float(mix), fibres=relieved), ends)

    joint = None
    if joined and panel.joint is not None:
        joint = _joint(panel, model, free, board)
    return GrainSplit(
        ways=tuple(way(one) for one in some),
        joint=joint,
        short=max(SHORT * 2.0 * opening.b, SHORT_LENGTH),
        lines=lines,
    )


def _mirrored(found: GrainSplit) -> GrainSplit:
    """Return what was followed in the mirror, lines and ways in their usual order."""
    last = len(found.lines) - 1
    ways = {tuple(sorted(last - k for k in way.lines)): way for way in found.ways}
    return replace(
        found,
        ways=tuple(replace(ways[way.lines], lines=way.lines) for way in found.ways),
        lines=tuple(replace(line, side=-line.side) for line in reversed(found.lines)),
    )


def _mirrored_board(board: Board) -> Board:
    beyond = (replace(one, low=-one.high, high=-one.low) for one in board.beyond)
    return replace(board, beyond=tuple(beyond))


def _line(panel: Panel, slit: Slit, reach: float, beyond: tuple[Beyond, ...]) -> Line:
    side = _level(panel, slit)
    start = float(panel.mesh.nodes[slit.right, 0].min())
    met = [one for one in beyond if one.low <= side <= one.high and one.away < reach]
    if not met:
        return Line(start=start, side=side)
    first = min(met, key=lambda one: one.away)
    return Line(start=start, side=side, room=max(first.away - start, 0.0), meets=first.words)


def _ended(way: Way, room: float) -> Way:
    """Cut a way off where its line meets something: to get there is to have run out."""
    if not np.isfinite(room):
        return way
    inside = way.split.length < room
    inside[0] = True
    split = replace(
        way.split,
        start_length=min(way.split.start_length, room),
        length=way.split.length[inside],
        need=way.split.need[inside],
        end=room,
    )
    return replace(way, split=split, fibres=way.fibres[inside])


def _steps(panel: Panel, split: tuple[int, ...]) -> list[Index]:
    """Step in which every row of the lines is freed; never, of those that hold."""
    never = len(panel.tips)
    steps = [
        release_steps(slit, panel.tips) if k in split else np.full(len(slit.right), never)
        for k, slit in enumerate(panel.lines)
    ]
    return [_twice(one) for one in steps]


def _level(panel: Panel, slit: Slit) -> float:
    return float(panel.mesh.nodes[slit.right, 1].mean())


def _twice(steps: Index) -> Index:
    return np.tile(steps, 2)


def deep_share(length: Array, depth: float, wood: Elasticity) -> Array:
    """Return what splits in a bent limb set free, over what they would in one pulled as its back.

    Parameters
    ----------
    length : ndarray, shape (k,), m
    depth : float, m
        Thickness of the limb.
    wood : Elasticity

    Notes
    -----
    A split c deep, in parts of the thickness: mean square ``(1 + r + r^2) / 3``, ``r = 1 - 2 c``,
    of the stress it runs in, times ``exp(-length / (STAGGER (2/pi) sqrt(E_L/G_LR) c depth))``; that
    of the depth at which this is greatest, and at least `DEEP_SHARE`.
    """
    if np.isinf(depth):
        return np.ones(len(length))
    r = 1.0 - 2.0 * _DEPTHS
    reach = STAGGER * 2.0 / np.pi * np.sqrt(wood.E_L / wood.G_LR) * depth * _DEPTHS
    hung = (1.0 + r + r**2) / 3.0 * np.exp(-np.asarray(length)[:, None] / reach)
    out: Array = np.maximum(hung.max(axis=1), DEEP_SHARE)
    return out


def _by_depth(growth: Growth, board: Board) -> Growth:
    """Energy release of a split in a bent limb."""
    share = deep_share(growth.middle, board.depth, board.wood)
    return replace(growth, G_I=share * growth.G_I, G_II=share * growth.G_II)


def _joint(panel: Panel, model: Model, free: Array, board: Board) -> Split:
    """When the joint of a live knot parts, from its end along the grain round both shoulders."""
    joint = panel.joint
    assert joint is not None
    nodes = panel.mesh.nodes[joint.right]
    start = joint.along[np.argmax(nodes[:, 0])]
    away = np.abs(joint.along - start)
    last = float(min(start - joint.along.min(), joint.along.max() - start))
    tips = np.linspace(0.0, 0.98 * last, max(len(away) // 4, 6) + 1)
    step = np.searchsorted(tips, away, side="left")
    step = np.where(step < 1, 1, step)
    rows = np.concatenate(
        [_twice(step), np.full(len(free) - model.rim, len(tips) + 1, dtype=np.intp)]
    )
    growth = _by_depth(grow(model.closure, free, rows, tips, tips=2), board)
    upper = joint.along >= start
    tied = growth.force[0][: model.rim].reshape(2, -1).T[upper]
    order = np.argsort(away[upper])
    return follow(growth, tied[order], away[upper][order], board.strength)
