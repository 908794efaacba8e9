"""Mesh of a strip fitted to its edges and to the ellipses of its zones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.optimize import brentq

from limbfe.defect.sizes import Fineness, SizeField, size_field
from limbfe.defect.strip import (
    Ellipse,
    Strip,
    clearance,
    edge,
    elliptic_radius,
    half_extent,
    rim,
)
from limbfe.errors import GeometryError
from limbfe.fem.delaunay import Bool, missing_segments, parts, triangulate
from limbfe.fem.mesh import Index, PlaneMesh, middle_nodes, second_order
from limbfe.frames import Array

BRIDGE = 0.04
"""Bridges of wood and overlaps thinner than this part of the zone's half width are closed."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripMesh:
    """Mesh of a strip.

    Attributes
    ----------
    mesh : PlaneMesh
        Region 0 is wood outside every fitted ellipse, region k + 1 the inside of ellipse k.
    low_end, high_end : ndarray of int
        Nodes at the smallest and at the largest x.
    rims : tuple of ndarray of int, shape (s, 3)
        Per ellipse the sides on its rim inside the strip: start, middle, end node,
        anticlockwise round the ellipse.  Empty for an ellipse that was not fitted.
    edges : ndarray of int, shape (s, 3)
        Sides on the two lateral edges.
    fitted : tuple of Ellipse or None
        The ellipses as meshed; None for one that lies outside the strip.
    """

    mesh: PlaneMesh
    low_end: Index
    high_end: Index
    rims: tuple[Index, ...]
    edges: Index
    fitted: tuple[Ellipse | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Curve:
    """A boundary piece: points at parameters between two ends; owner -1 edge, -2 end, k ellipse."""

    at: Callable[[Array], Array]
    start: float
    stop: float
    owner: int


def straddles_end(strip: Strip, ellipse: Ellipse) -> bool:
    """Return whether an ellipse lies across an end of the strip."""
    half_length, _ = half_extent(ellipse)
    low, high = ellipse.x - half_length, ellipse.x + half_length
    return bool((low < strip.x[0] < high) or (low < strip.x[-1] < high))


def settle(strip: Strip, ellipse: Ellipse, name: str = "zone") -> Ellipse | None:
    """Return the ellipse as it can be meshed, or None if it lies outside the strip.

    A bridge to the edge, or an overlap with it, thinner than `BRIDGE` times the half width is
    too thin to carry or to mesh: the ellipse is moved outwards until it cuts the edge by that
    much.

    Raises
    ------
    GeometryError
        If the ellipse crosses both edges or an end of the strip.
    """
    half_length, half_width = half_extent(ellipse)
    if ellipse.x + half_length <= strip.x[0] or ellipse.x - half_length >= strip.x[-1]:
        return None
    thin = BRIDGE * half_width
    right_gap, right_depth, left_gap, left_depth = clearance(strip, ellipse)
    if right_depth < thin or left_depth < thin:
        return None
    if straddles_end(strip, ellipse):
        raise GeometryError(
            f"{name}: reaches past the end of the strip ({strip.x[0]:.4g} to {strip.x[-1]:.4g} m);"
            " take a longer strip"
        )
    if right_gap < thin and left_gap < thin:
        raise GeometryError(
            f"{name}: {2.0 * half_width:.4g} m wide, as wide as the limb there; no wood is left"
            " beside it: reduce its size or leave more width"
        )
    if abs(left_gap) < thin:
        return replace(ellipse, y=ellipse.y + left_gap + thin)
    if abs(right_gap) < thin:
        return replace(ellipse, y=ellipse.y - right_gap - thin)
    return ellipse


def strip_mesh(
    strip: Strip,
    ellipses: tuple[Ellipse, ...],
    fineness: Fineness,
    *,
    hollow: tuple[bool, ...] | None = None,
    unmeshed: tuple[bool, ...] | None = None,
    refine: tuple[Ellipse, ...] = (),
    names: tuple[str, ...] | None = None,
) -> StripMesh:
    """Return a graded mesh of six-node triangles with curved sides on edges and rims.

    Parameters
    ----------
    strip : Strip
    ellipses : tuple of Ellipse
        Zones whose rim becomes a line of element sides.
    fineness : Fineness
    hollow : tuple of bool, optional
        Which ellipses are left without elements; none if not given.
    unmeshed : tuple of bool, optional
        Which ellipses have no rim in the mesh; none if not given.
    refine : tuple of Ellipse
        Places to be meshed finely without fitting.
    names : tuple of str, optional
        What to call the ellipses in messages.

    Raises
    ------
    GeometryError
        If ellipses overlap, one spans the strip, or the mesh cannot be made.
    """
    none = (False,) * len(ellipses)
    labels = names or tuple(f"zone {k + 1}" for k in range(len(ellipses)))
    fitted = tuple(
        None if skipped else settle(strip, e, n)
        for e, n, skipped in zip(ellipses, labels, unmeshed or none, strict=True)
    )
    _refuse_overlap(fitted, labels)
    seen = tuple(f if f is not None else e for f, e in zip(fitted, ellipses, strict=True))
    sizes = size_field(strip, seen, fineness, refine)
    curves = _curves(strip, fitted)
    holes = tuple(f for f, h in zip(fitted, hollow or none, strict=True) if h and f)

    def inside(points: Array) -> Bool:
        return _inside(strip, holes, points)

    split = np.ones(len(curves))
    for _ in range(5):
        boundary, segments, middles, owner, curve = _sample(curves, sizes, split)
        points, triangles = triangulate(boundary, segments, sizes, inside)
        missing = missing_segments(points, triangles, segments)
        if not missing.any():
            break
        split[np.unique(curve[missing])] *= 0.6
    else:
        raise GeometryError(
            f"mesh: cannot follow the outline near x = {boundary[segments[missing][0, 0], 0]:.4g}"
            " m; curves there meet at too sharp an angle"
        )
    return _finish(strip, fitted, holes, points, triangles, segments, middles, owner)


def _refuse_overlap(fitted: tuple[Ellipse | None, ...], names: tuple[str, ...]) -> None:
    t = np.linspace(0.0, 2.0 * np.pi, 361)
    for i, first in enumerate(fitted):
        for j, second in enumerate(fitted[:i]):
            if first is None or second is None:
                continue
            one = elliptic_radius(second, rim(first, t))
            two = elliptic_radius(first, rim(second, t))
            nested = one.max() < 1.0 - BRIDGE or two.max() < 1.0 - BRIDGE
            apart = one.min() > 1.0 + BRIDGE and two.min() > 1.0 + BRIDGE
            if not (nested or apart):
                raise GeometryError(
                    f"{names[j]} and {names[i]} overlap or touch near x = {first.x:.4g} m;"
                    " describe them as one zone that covers both"
                )


def _inside(strip: Strip, holes: tuple[Ellipse, ...], points: Array) -> Bool:
    x, y = points[:, 0], points[:, 1]
    inside: Bool = (x > strip.x[0]) & (x < strip.x[-1])
    within = np.clip(x, strip.x[0], strip.x[-1])
    inside &= (y > edge(strip, "right", within)) & (y < edge(strip, "left", within))
    for hole in holes:
        inside &= elliptic_radius(hole, points) > 1.0
    return inside


def _edge_curve(strip: Strip, side: str) -> Callable[[Array], Array]:
    return lambda x: np.stack([x, edge(strip, side, x)], axis=-1)


def _line(p: Array, q: Array) -> Callable[[Array], Array]:
    return lambda s: p + s[..., None] * (q - p)


def _rim_curve(ellipse: Ellipse) -> Callable[[Array], Array]:
    return lambda t: rim(ellipse, t)


def _curves(strip: Strip, fitted: tuple[Ellipse | None, ...]) -> tuple[_Curve, ...]:
    """Boundary and interface pieces, cut where they meet."""
    cuts: dict[str, list[float]] = {"right": [], "left": []}
    curves: list[_Curve] = []
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
            if len(angles) == 1 or _inside(strip, (), middle)[0]:
                curves.append(_Curve(at=at, start=start, stop=stop, owner=number))
    for side, places in cuts.items():
        knots = [float(strip.x[0]), *sorted(places), float(strip.x[-1])]
        at = _edge_curve(strip, side)
        curves += [_Curve(at=at, start=u, stop=v, owner=-1) for u, v in pairwise(knots)]
    for k in (0, -1):
        low = np.array([strip.x[k], strip.right[k]])
        high = np.array([strip.x[k], strip.left[k]])
        curves.append(_Curve(at=_line(low, high), start=0.0, stop=1.0, owner=-2))
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
    return float(brentq(function, low, high, xtol=1e-13))


def _sample(
    curves: tuple[_Curve, ...], sizes: SizeField, split: Array
) -> tuple[Array, Index, Array, Index, Index]:
    """Vertices, segments, segment middles, owners and curve numbers."""
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
    return (
        points,
        merged[np.vstack(segments)],
        np.vstack(middles),
        np.array(owner),
        np.array(number),
    )


def _parameters(curve: _Curve, sizes: SizeField, factor: float) -> Array:
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


def _finish(
    strip: Strip,
    fitted: tuple[Ellipse | None, ...],
    holes: tuple[Ellipse, ...],
    points: Array,
    triangles: Index,
    segments: Index,
    middles: Array,
    owner: Index,
) -> StripMesh:
    """Sort triangles into regions, drop those outside, bend the sides onto the curves."""
    count, part = parts(triangles, segments, len(points))
    corner = points[triangles]
    centroid = corner.mean(axis=1)
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = 0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    total = np.bincount(part, weights=area, minlength=count)

    def mostly(flag: Bool) -> Bool:
        share = np.bincount(part, weights=area * flag, minlength=count)
        inner: Bool = (share > 0.5 * total)[part]
        return inner

    keep = mostly(_inside(strip, (), centroid))
    region = np.zeros(len(triangles), dtype=np.intp)
    # The smallest ellipse last, so that a knot inside a rotten patch stays a knot.
    numbers = [k for k, f in enumerate(fitted) if f is not None]
    for k in sorted(numbers, key=lambda k: -fitted[k].a * fitted[k].b):  # type: ignore[union-attr]
        ellipse = fitted[k]
        assert ellipse is not None
        inner = mostly(elliptic_radius(ellipse, centroid) < 1.0)
        region[inner] = k + 1
        if any(ellipse is hole for hole in holes):
            keep &= ~inner
    used = np.zeros(len(points), dtype=bool)
    used[triangles[keep]] = True
    renumber = np.cumsum(used) - 1
    mesh = second_order(points[used], renumber[triangles[keep]], region[keep])

    live = used[segments].all(axis=1)
    ends = renumber[segments[live]]
    middle = middle_nodes(mesh, ends)
    on_mesh = middle >= 0
    nodes = mesh.nodes.copy()
    nodes[middle[on_mesh]] = middles[live][on_mesh]
    sides = np.stack([ends[:, 0], middle, ends[:, 1]], axis=1)[on_mesh]
    owners = owner[live][on_mesh]
    span = strip.x[-1] - strip.x[0]
    return StripMesh(
        mesh=replace(mesh, nodes=nodes),
        low_end=np.flatnonzero(np.abs(nodes[:, 0] - strip.x[0]) < 1e-9 * span),
        high_end=np.flatnonzero(np.abs(nodes[:, 0] - strip.x[-1]) < 1e-9 * span),
        rims=tuple(sides[owners == k] for k in range(len(fitted))),
        edges=sides[owners == -1],
        fitted=fitted,
    )
