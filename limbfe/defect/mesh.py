"""Mesh of a strip fitted to its edges and to the ellipses of its zones."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbfe.defect.in_wood import is_wood
from limbfe.defect.outline import EDGE, Outline, boundary_curves, sample_curves
from limbfe.defect.sizes import Fineness, size_field
from limbfe.defect.strip import (
    Ellipse,
    Strip,
    clearance,
    elliptic_radius,
    half_extent,
    rim,
)
from limbfe.errors import GeometryError
from limbfe.fem.delaunay import Bool, missing_segments, parts, triangulate
from limbfe.fem.mesh import (
    Index,
    PlaneMesh,
    middle_nodes,
    renumber,
    second_order,
    turned_over,
)
from limbfe.frames import Array

BRIDGE = 0.04
"""Bridges of wood and overlaps thinner than this part of the zone's half width are closed."""
FLAT = 1e-6
"""A part whose area is less of the square of its sides has none."""


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


def straddles_end(strip: Strip, ellipse: Ellipse) -> bool:
    """Return whether an ellipse lies across an end of the strip."""
    half_length, _ = half_extent(ellipse)
    low, high = ellipse.x - half_length, ellipse.x + half_length
    return bool((low < strip.x[0] < high) or (low < strip.x[-1] < high))


def spans(strip: Strip, ellipse: Ellipse) -> bool:
    """Return whether an ellipse leaves no wood on either side of it."""
    right_gap, _, left_gap, _ = clearance(strip, ellipse)
    return max(right_gap, left_gap) < BRIDGE * half_extent(ellipse)[1]


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
    if spans(strip, ellipse):
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
    refine: tuple[tuple[Ellipse, float], ...] = (),
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
    refine : tuple of (Ellipse, float)
        Places to be meshed finely without fitting, and the side length there, m.
    names : tuple of str, optional
        What to call the ellipses in messages.

    Raises
    ------
    GeometryError
        If ellipses overlap, one spans the strip, or the mesh cannot be made.
    """
    none = (False,) * len(ellipses)
    labels = names or tuple(f"zone {k + 1}" for k in range(len(ellipses)))
    fitted = tuple(settle(strip, e, n) for e, n in zip(ellipses, labels, strict=True))
    refuse_overlap(fitted, labels)
    seen = tuple(f if f is not None else e for f, e in zip(fitted, ellipses, strict=True))
    sizes = size_field(strip, seen, fineness, refine)
    curves = boundary_curves(strip, fitted)
    holes = tuple(f for f, h in zip(fitted, hollow or none, strict=True) if h and f)

    def inside(points: Array) -> Bool:
        return is_wood(strip, holes, points)

    split = np.ones(len(curves))
    for _ in range(5):
        outline = sample_curves(curves, sizes, split)
        points, triangles = triangulate(
            outline.vertices, outline.segments, sizes, inside, fineness.smoothing
        )
        missing = missing_segments(points, triangles, outline.segments)
        if not missing.any():
            return _finish(strip, fitted, holes, points, triangles, outline)
        split[np.unique(outline.curve[missing])] *= 0.6
    place = outline.vertices[outline.segments[missing][0, 0], 0]
    raise GeometryError(
        f"mesh: cannot follow the outline near x = {place:.4g} m; curves there meet at too sharp"
        " an angle"
    )


def refuse_overlap(fitted: tuple[Ellipse | None, ...], names: tuple[str, ...]) -> None:
    """Raise GeometryError if two ellipses cross or touch; None stands for one that is not there."""
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


def _finish(
    strip: Strip,
    fitted: tuple[Ellipse | None, ...],
    holes: tuple[Ellipse, ...],
    points: Array,
    triangles: Index,
    outline: Outline,
) -> StripMesh:
    """Drop what lies outside, bend sides onto their curves, number the nodes anew."""
    keep, region = _regions(strip, fitted, holes, points, triangles, outline.segments)
    used = np.zeros(len(points), dtype=bool)
    used[triangles[keep]] = True
    new = np.cumsum(used) - 1
    mesh = second_order(points[used], new[triangles[keep]], region[keep])

    live = used[outline.segments].all(axis=1)
    ends = new[outline.segments[live]]
    middle = middle_nodes(mesh, ends)
    on_mesh = middle >= 0
    nodes = mesh.nodes.copy()
    nodes[middle[on_mesh]] = outline.middles[live][on_mesh]
    mesh, number = renumber(replace(mesh, nodes=_upright(mesh, nodes)))
    sides = number[np.stack([ends[:, 0], middle, ends[:, 1]], axis=1)[on_mesh]]
    owner = outline.owner[live][on_mesh]
    x, span = mesh.nodes[:, 0], strip.x[-1] - strip.x[0]
    return StripMesh(
        mesh=mesh,
        low_end=np.flatnonzero(np.abs(x - strip.x[0]) < 1e-9 * span),
        high_end=np.flatnonzero(np.abs(x - strip.x[-1]) < 1e-9 * span),
        rims=tuple(sides[owner == k] for k in range(len(fitted))),
        edges=sides[owner == EDGE],
        fitted=fitted,
    )


def _upright(mesh: PlaneMesh, bent: Array) -> Array:
    """Return the bent nodes, with straight sides where bending turned an element inside out.

    Such an element is a sliver beside a curved side; the side keeps its ends on the curve.
    """
    nodes = bent.copy()
    while (turned := turned_over(replace(mesh, nodes=nodes))).any():
        slivers = mesh.elements[turned]
        if np.array_equal(nodes[slivers], mesh.nodes[slivers]):
            break
        nodes[slivers] = mesh.nodes[slivers]
    return nodes


def _regions(
    strip: Strip,
    fitted: tuple[Ellipse | None, ...],
    holes: tuple[Ellipse, ...],
    points: Array,
    triangles: Index,
    segments: Index,
) -> tuple[Bool, Index]:
    """Which triangles to keep and the region of each.

    Decided for whole parts between segments, by the larger share of area: single triangles whose
    side cuts a curve short can have their middle on the wrong side of it.
    """
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

    # Between three points on a straight edge and the hull lies a triangle of no area, whose middle
    # rounding may put into the wood: its matrix would be singular.
    width = np.maximum(np.einsum("ij,ij->i", u, u), np.einsum("ij,ij->i", v, v))
    solid = total > FLAT * np.bincount(part, weights=width, minlength=count)
    keep = mostly(is_wood(strip, (), centroid)) & solid[part]
    region = np.zeros(len(triangles), dtype=np.intp)
    present = [(k, e) for k, e in enumerate(fitted) if e is not None]
    # The smallest ellipse last, so that a knot inside a rotten patch stays a knot.
    for k, ellipse in sorted(present, key=lambda pair: -pair[1].a * pair[1].b):
        inner = mostly(elliptic_radius(ellipse, centroid) < 1.0)
        region[inner] = k + 1
        if any(ellipse is hole for hole in holes):
            keep &= ~inner
    return keep, region
