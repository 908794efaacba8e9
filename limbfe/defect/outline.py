"""Curves that bound a strip and its zones, cut where they meet and sampled for a mesh."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from limbfe.defect.in_wood import is_wood
from limbfe.defect.sizes import SizeField
from limbfe.defect.strip import Ellipse, Strip, edge, rim
from limbfe.fem.mesh import Index
from limbfe.frames import Array

EDGE, END = -1, -2
"""Owners of curves that are not the rim of an ellipse."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """A piece of boundary: points at parameters between two ends, and the ellipse it is part of."""

    at: Callable[[Array], Array]
    start: float
    stop: float
    owner: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """Sampled curves.

    Attributes
    ----------
    vertices : ndarray, shape (v, 2), m
    segments : ndarray of int, shape (s, 2)
    middles : ndarray, shape (s, 2), m
        Point of the curve half way along each segment.
    owner, curve : ndarray of int, shape (s,)
        Ellipse number, `EDGE` or `END`, and number of the curve.
    """

    vertices: Array
    segments: Index
    middles: Array
    owner: Index
    curve: Index


def _edge_curve(strip: Strip, side: str) -> Callable[[Array], Array]:
    return lambda x: np.stack([x, edge(strip, side, x)], axis=-1)


def _line(p: Array, q: Array) -> Callable[[Array], Array]:
    return lambda s: p + s[..., None] * (q - p)


def _rim_curve(ellipse: Ellipse) -> Callable[[Array], Array]:
    return lambda t: rim(ellipse, t)


def boundary_curves(strip: Strip, fitted: tuple[Ellipse | None, ...]) -> tuple[Curve, ...]:
    """Return edges, ends and rims inside the strip, cut where they meet."""
    cuts: dict[str, list[float]] = {"right": [], "left": []}
    curves: list[Curve] = []
    for number, ellipse in enumerate(fitted):
        if ellipse is None:
            continue
        at = _rim_curve(ellipse)
        angles: list[float] = []
        for side in cuts:
            crossing = _crossings(strip, ellipse, side)
            angles += crossing
            cuts[side] += [float(at(np.array(t))[0]) for t in crossing]
        if not angles:
            angles = [0.0]
        angles.sort()
        ends = [*angles[1:], angles[0] + 2.0 * np.pi]
        for start, stop in zip(angles, ends, strict=True):
            middle = at(np.array([0.5 * (start + stop)]))
            if len(angles) == 1 or is_wood(strip, (), middle)[0]:
                curves.append(Curve(at=at, start=start, stop=stop, owner=number))
    for side, places in cuts.items():
        knots = [float(strip.x[0]), *sorted(places), float(strip.x[-1])]
        at = _edge_curve(strip, side)
        curves += [Curve(at=at, start=u, stop=v, owner=EDGE) for u, v in pairwise(knots)]
    for k in (0, -1):
        low = np.array([strip.x[k], strip.right[k]])
        high = np.array([strip.x[k], strip.left[k]])
        curves.append(Curve(at=_line(low, high), start=0.0, stop=1.0, owner=END))
    return tuple(curves)


def _crossings(strip: Strip, ellipse: Ellipse, side: str) -> list[float]:
    """Eccentric angles in [0, 2 pi) at which the rim crosses an edge."""

    def height(t: float) -> float:
        x, y = rim(ellipse, np.array(t))
        return float(y - edge(strip, side, np.array(x)))

    t = np.linspace(0.0, 2.0 * np.pi, 721)
    points = rim(ellipse, t)
    # The end repeats the start to the last digit, so that no crossing is lost or found twice.
    points[-1] = points[0]
    beyond = points[:, 1] >= edge(strip, side, points[:, 0])
    change = np.flatnonzero(beyond[:-1] != beyond[1:])
    return [_root(height, float(t[k]), float(t[k + 1])) for k in change]


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    if function(low) == 0.0:
        return low
    if function(low) * function(high) >= 0.0:
        return high
    from scipy.optimize import brentq  # half a second, and few outlines ask for it

    return float(brentq(function, low, high, xtol=1e-13))


def sample_curves(curves: tuple[Curve, ...], sizes: SizeField, split: Array) -> Outline:
    """Return the curves in segments as long as the size field wants, times `split` per curve."""
    vertices: list[Array] = []
    segments: list[Index] = []
    middles: list[Array] = []
    owner: list[int] = []
    number: list[int] = []
    count = 0
    for k, curve in enumerate(curves):
        s = _parameters(curve, sizes, float(split[k]))
        chain = count + np.arange(len(s))
        vertices.append(curve.at(s))
        segments.append(np.stack([chain[:-1], chain[1:]], axis=1))
        middles.append(curve.at(0.5 * (s[:-1] + s[1:])))
        owner += [curve.owner] * (len(s) - 1)
        number += [k] * (len(s) - 1)
        count += len(s)
    points, merged = _merge(np.vstack(vertices))
    return Outline(
        vertices=points,
        segments=merged[np.vstack(segments)],
        middles=np.vstack(middles),
        owner=np.array(owner),
        curve=np.array(number),
    )


def _parameters(curve: Curve, sizes: SizeField, factor: float) -> Array:
    """Parameters of vertices spaced as the size field wants."""
    s = np.linspace(curve.start, curve.stop, 1201)
    points = curve.at(s)
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    rate = step / (factor * sizes(0.5 * (points[1:] + points[:-1])))
    total = np.concatenate([[0.0], np.cumsum(rate)])
    pieces = max(int(np.ceil(total[-1])), 2)
    return np.interp(np.linspace(0.0, total[-1], pieces + 1), total, s)


def _merge(points: Array) -> tuple[Array, Index]:
    """Join the coinciding end points of the pieces."""
    span = np.ptp(points, axis=0).max()
    key = np.round(points / (1e-9 * span)).astype(np.int64)
    _, first, place = np.unique(key, axis=0, return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    return points[first[order]], rank[place.ravel()]
