"""A bow laid out in a stave: what its line leaves at every station."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from limbfe.curves import trapezoid
from limbfe.frames import Array
from limbfe.log.line import Line
from limbfe.log.log import Log
from limbfe.log.turn import Turn
from limbfe.stave.outline import back_z, belly_z
from limbfe.stave.profile import shape_at
from limbfe.stave.recurve import bent_in
from limbfe.stave.stave import Stave

BETWEEN = 0.075
"""Longest step (m) between stations of the finished limb."""
CLOSE = 0.005
"""Longest step (m) along a line at which the wood beside it is measured."""
LEAST_HEARTWOOD = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowest:
    """Where a line has the least wood beside the finished limb; m, side of the bench."""

    spare: float
    side: Literal["left", "right"]
    x: float
    width: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaidLimb:
    """The finished bow in the stave, at stations of the bow from lower to upper nock.

    Attributes
    ----------
    s : ndarray, shape (n,), m
        Along the bow's back from the middle of the grip.
    x, offset : ndarray, shape (n,), m
        The same places on the stave, and the line there, to the right of the snapped line.
    width, thickness : ndarray, shape (n,), m
    left, right, depth : ndarray, shape (n,), m
        Wood to spare beside the finished limb and below it; left and right of the bench.
    narrowest : Narrowest
        Between the stations too.
    sideways_slope, run_out : ndarray, shape (n,), rad
        Of the grain against the limb, in the face (to the archer's right going up) and between
        back and belly (out at the back going up).
    spiral : float, rad
        The part of the slope in the face that turns with the rings.
    sapwood, ring_radius, reflex, sideways, backing, crown : ndarray, shape (n,), m
    twist : ndarray, shape (n,), rad
        As columns of a case; a recurve that is wanted is bent in, on top of the stave's reflex.
    round_back : bool
        Whether its back is the stave's own, round as the rings.
    thin_sapwood : bool
        Whether the sapwood was cut short where the limb is thinner than it.
    """

    s: Array
    x: Array
    offset: Array
    width: Array
    thickness: Array
    left: Array
    right: Array
    depth: Array
    narrowest: Narrowest
    sideways_slope: Array
    run_out: Array
    spiral: float
    sapwood: Array
    ring_radius: Array
    reflex: Array
    sideways: Array
    twist: Array
    backing: Array
    crown: Array
    round_back: bool
    thin_sapwood: bool


def with_stave_back(log: Log, line: Line, wanted: Stave) -> Stave:
    """Return the wanted bow with the back that it keeps of its stave along a line.

    A round back is left whole: cut flat, its rings end at the edges.  The pith lies straight below
    the line wherever that runs, so the radius of the back is its depth.  A backing lies as wanted.
    """
    if not keeps_back(log, wanted):
        return wanted
    crown = log.at("pith", line.station(wanted.x))
    return replace(wanted, outline=replace(wanted.outline, crown=crown))


def keeps_back(log: Log, wanted: Stave) -> bool:
    """Return whether a bow's back is that of its stave: rings known, nothing glued on."""
    return log.round and not bool(np.any(wanted.backing))


def laid_stations(wanted: Stave) -> Array:
    """Return the wanted limb's stations with others between, none further apart than `BETWEEN`."""
    pieces = [
        np.linspace(a, b, int(np.ceil((b - a) / BETWEEN)) + 1)[:-1]
        for a, b in zip(wanted.x[:-1], wanted.x[1:], strict=True)
    ]
    return np.concatenate([*pieces, wanted.x[-1:]])


def lay_limb(log: Log, line: Line, wanted: Stave) -> LaidLimb:
    """Return a bow laid along a line.

    Parameters
    ----------
    log : Log
    line : Line
    wanted : Stave
        Its sizes and outline, `with_stave_back`; how its wood lies comes from the log.
    """
    turn, s = Turn(line.upper_end), laid_stations(wanted)
    x = line.station(s)
    shapes = shape_at(wanted, s)
    width, thickness = np.array(shapes.width), np.array(shapes.thickness)
    offset, slope = line.offset_at(x), line.offset_at(x, 1)
    left, right, depth = spare_wood(log, x, offset, slope, width, thickness)
    spiral = np.tan(log.spiral)
    radius = log.at("pith", x)
    sinking = log.at("fibre_depth", x, 1)
    if log.round:
        sinking = sinking + 0.5 * thickness * log.at("pith", x, 1) / radius
    sapwood, most = log.at("sapwood", x), np.maximum(thickness - LEAST_HEARTWOOD, 0.0)
    lean = log.at("twist", x) + (offset / radius if log.round else 0.0)
    grip = np.array([line.grip])
    grip_lean = log.at("twist", grip) + (line.offset_at(grip) / log.at("pith", grip))
    return LaidLimb(
        s=s,
        x=x,
        offset=offset,
        width=width,
        thickness=thickness,
        left=left,
        right=right,
        depth=depth,
        narrowest=_narrowest(log, line, wanted),
        sideways_slope=np.arctan(turn.slope(log.fibre_slope(x) - spiral - slope)),
        run_out=np.arctan(turn.along(-sinking)),
        spiral=float(np.arctan(turn.slope(np.array(spiral)))),
        sapwood=np.minimum(sapwood, most),
        ring_radius=radius,
        reflex=rest_profile(log, line, x, wanted.half_grip) + bent_in(wanted, s),
        sideways=turn.across(offset - line.chord(x)),
        twist=turn.lean_of_back(lean - grip_lean),
        backing=np.array(shapes.backing),
        crown=radius if keeps_back(log, wanted) else np.array(shapes.crown),
        round_back=keeps_back(log, wanted),
        thin_sapwood=bool(np.any(sapwood > most)),
    )


def closely(line: Line) -> Array:
    """Return stations of the stave from nock to nock, none further apart than `CLOSE`."""
    low, high = line.nocks
    return np.linspace(low, high, int(np.ceil((high - low) / CLOSE)) + 1)


def _narrowest(log: Log, line: Line, wanted: Stave) -> Narrowest:
    low, high = wanted.x[0], wanted.x[-1]
    s = np.linspace(low, high, int(np.ceil((high - low) / CLOSE)) + 1)
    x, shapes = line.station(s), shape_at(wanted, s)
    width, thickness = np.array(shapes.width), np.array(shapes.thickness)
    left, right, _ = spare_wood(log, x, line.offset_at(x), line.offset_at(x, 1), width, thickness)
    k = int(np.argmin(np.minimum(left, right)))
    return Narrowest(
        spare=float(min(left[k], right[k])),
        side="left" if left[k] <= right[k] else "right",
        x=float(x[k]),
        width=float(width[k]),
    )


def spare_wood(
    log: Log, x: Array, offset: Array, slope: Array, width: Array, thickness: Array
) -> tuple[Array, Array, Array]:
    """Return the wood left and right of a limb and below it, m; negative: none.

    Arguments broadcast; the depth has the shape of `x`, and of `offset` too under a round back.

    The limb's width stands square to its line; the leaning split faces count down to its belly.
    Under a round back the wood is less deep beside the top of the arch.
    """
    half = 0.5 * width * np.hypot(1.0, slope)
    upper, lower = log.edges_at(x, 0.0, thickness)
    left = np.minimum(offset - half - upper[0], offset - half - lower[0])
    right = np.minimum(upper[1] - offset - half, lower[1] - offset - half)
    depth = log.at("depth", x) - thickness
    if log.round:
        from_top = np.abs(offset - log.at("pith_across", x))
        radius = log.at("pith", x)
        depth = depth - (radius - np.sqrt(np.maximum(radius**2 - from_top**2, 0.0)))
    return left, right, depth


def rest_profile(log: Log, line: Line, x: Array, half_grip: float) -> Array:
    """Return how far the back lies ahead of the line tangent to the grip at stations `x`, m."""
    reach = max(half_grip, 0.02)
    ends = np.array([line.grip - reach, line.grip + reach])
    low, high = log.at("rise", ends)
    slope = (high - low) / (2.0 * reach)
    at_grip = float(log.at("rise", np.array([line.grip]))[0])
    reflex: Array = log.at("rise", x) - at_grip - slope * (x - line.grip)
    return reflex


def limb_volume(wanted: Stave) -> float:
    """Return the volume of the finished bow, m3, back and belly as straight over each section."""
    s = np.linspace(wanted.x[0], wanted.x[-1], 1501)
    shapes = shape_at(wanted, s)
    y = 0.5 * np.asarray(shapes.width)[:, None] * np.linspace(-1.0, 1.0, 201)
    area = trapezoid(back_z(shapes, y) - belly_z(shapes, y), y)
    return float(trapezoid(area, s))


def stave_between(log: Log, low: float, high: float) -> float:
    """Return the volume of the stave's sound wood between two stations, m3."""
    x = np.linspace(low, high, 3001)
    names = ("left", "right", "left_below", "right_below")
    wide = 0.5 * sum(log.at(name, x) for name in names)
    return float(trapezoid(wide * log.at("depth", x), x))
