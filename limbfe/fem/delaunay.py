"""Graded triangulation of a plane region whose boundary segments are given.

References
----------
J. Ruppert, A Delaunay refinement algorithm for quality 2-dimensional mesh generation, Journal
of Algorithms 18 (1995), 548-585: circumcentre insertion and encroached segments (from memory).
Here the segments come ready sampled at the wanted size, so they are protected rather than
split, circumcentres are inserted many at a time, and a few smoothing rounds follow.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from limbfe.errors import GeometryError
from limbfe.fem.mesh import SIDES, Index
from limbfe.fem.spatial import Delaunay, cKDTree
from limbfe.frames import Array

Bool = NDArray[np.bool_]
_MAX_ROUNDS = 60
_MAX_POINTS = 100_000


def triangulate(
    boundary: Array,
    segments: Index,
    size: Callable[[Array], Array],
    inside: Callable[[Array], Bool],
    smoothing: int,
) -> tuple[Array, Index]:
    """Return a Delaunay triangulation whose sides include the given segments.

    Parameters
    ----------
    boundary : ndarray, shape (b, 2)
        Vertices on boundaries and interfaces, kept in place.
    segments : ndarray of int, shape (s, 2)
        Sides between them, about as long as `size` there.
    size : callable
        Wanted side length at points of shape (p, 2).
    inside : callable
        Tells which points, shape (p, 2), lie where elements are wanted.
    smoothing : int
        Rounds that move inner vertices to the middle of the triangles around them.

    Returns
    -------
    points : ndarray, shape (n, 2)
        The boundary vertices first.
    triangles : ndarray of int, shape (m, 3)
        All triangles of the convex hull, anticlockwise.

    Raises
    ------
    GeometryError
        If the refinement does not come to an end or wants too many vertices.
    """
    middle = boundary[segments].mean(axis=1)
    half = 0.5 * np.linalg.norm(np.diff(boundary[segments], axis=1)[:, 0], axis=1)
    guard = _Guard(middle, half)
    points = boundary
    for _ in range(_MAX_ROUNDS):
        triangles, across = _delaunay(points)
        fresh = _circumcentres_wanted(points, triangles, size, inside)
        fresh = fresh[guard.clear(fresh)]
        if len(fresh) == 0:
            break
        points = np.vstack([points, fresh])
        if len(points) > _MAX_POINTS:
            raise GeometryError(
                f"mesh: more than {_MAX_POINTS} vertices are wanted; ask for larger elements"
            )
    else:
        raise GeometryError(
            f"mesh: refinement did not end within {_MAX_ROUNDS} rounds; curves of the zone lie"
            " too close together for the element size"
        )
    fixed = len(boundary)
    for _ in range(smoothing):
        points = _smooth(points, triangles, fixed, size, guard)
        if not _still_delaunay(points, triangles, across):
            triangles, across = _delaunay(points)
    return points, triangles


def missing_segments(points: Array, triangles: Index, segments: Index) -> Bool:
    """Return which segments are not sides of the triangulation."""
    sides = np.sort(triangles[:, SIDES].reshape(-1, 2), axis=1)
    wanted = np.sort(segments, axis=1)
    n = len(points)
    return ~np.isin(wanted[:, 0] * n + wanted[:, 1], sides[:, 0] * n + sides[:, 1])


def parts(triangles: Index, segments: Index, n_points: int) -> tuple[int, Index]:
    """Return the connected parts into which the segments cut a triangulation.

    Returns
    -------
    count : int
    part : ndarray of int, shape (m,)
    """
    sides = np.sort(triangles[:, SIDES].reshape(-1, 2), axis=1)
    keys = sides[:, 0] * n_points + sides[:, 1]
    owner = np.repeat(np.arange(len(triangles)), 3)
    order = np.argsort(keys, kind="stable")
    keys, owner = keys[order], owner[order]
    shared = np.flatnonzero(keys[1:] == keys[:-1])
    wall = np.sort(segments, axis=1)
    open_side = ~np.isin(keys[shared], wall[:, 0] * n_points + wall[:, 1])
    first, second = owner[shared[open_side]], owner[shared[open_side] + 1]
    m = len(triangles)
    graph = coo_array((np.ones(len(first)), (first, second)), shape=(m, m))
    count, part = connected_components(graph, directed=False)
    return int(count), part


class _Guard:
    """Keeps inserted points out of the circles on the segments, so the segments survive."""

    def __init__(self, middle: Array, half: Array) -> None:
        self._middle, self._half = middle, half
        self._tree = cKDTree(middle)
        self._near = min(6, len(middle))

    def clear(self, points: Array, margin: float = 1.15) -> Bool:
        if len(points) == 0:
            return np.zeros(0, dtype=bool)
        distance, which = self._tree.query(points, k=self._near)
        apart = np.reshape(distance, (len(points), -1))
        result: Bool = np.all(apart > margin * self._half[which].reshape(apart.shape), axis=1)
        return result


def _delaunay(points: Array) -> tuple[Index, Index]:
    """Triangles, anticlockwise, and the neighbour across the side opposite each vertex or -1."""
    found = Delaunay(points)
    triangles, across = found.simplices.astype(np.intp), found.neighbors.astype(np.intp)
    a, b, c = (points[triangles[:, k]] for k in range(3))
    area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    turned = area < 0.0
    triangles[turned] = triangles[turned][:, [0, 2, 1]]
    across[turned] = across[turned][:, [0, 2, 1]]
    return triangles, across


def _still_delaunay(points: Array, triangles: Index, across: Index) -> bool:
    """Return whether a triangulation is Delaunay after its points were moved.

    It is if no triangle turned over and at no side the two angles opposite it add up to more than
    half a turn (B. Delaunay's lemma of 1934, from memory).
    """
    sums = triangles.sum(axis=1)
    beyond = np.where(across >= 0, sums[across] - (sums[:, None] - triangles), triangles)
    start, stop = points[triangles[:, [1, 2, 0]]], points[triangles[:, [2, 0, 1]]]

    def angle(at: Index) -> tuple[Array, Array]:
        (ux, uy), (vx, vy) = (np.moveaxis(end - points[at], -1, 0) for end in (start, stop))
        return ux * vx + uy * vy, ux * vy - uy * vx

    (cos_near, sin_near), (cos_far, sin_far) = angle(triangles), angle(beyond)
    # Sine of the sum of both angles; where the side lies on the hull they are one and the same.
    both = cos_far * sin_near - cos_near * sin_far
    good: Bool = (sin_near > 0.0) & ((both >= 0.0) | (across < 0))
    return bool(good.all())


def _circumcentres_wanted(
    points: Array,
    triangles: Index,
    size: Callable[[Array], Array],
    inside: Callable[[Array], Bool],
) -> Array:
    """Circumcentres of triangles that are too big or too flat, thinned to a spaced set."""
    corner = points[triangles]
    a = corner[:, 0]
    b, c = corner[:, 1] - a, corner[:, 2] - a
    twice = 2.0 * (b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0])
    bb, cc = (b * b).sum(axis=1), (c * c).sum(axis=1)
    sides = np.linalg.norm(corner - corner[:, [1, 2, 0]], axis=2)
    sound = twice > 1e-9 * sides.max(axis=1) ** 2
    safe = np.where(sound, twice, 1.0)
    offset = np.stack([c[:, 1] * bb - b[:, 1] * cc, b[:, 0] * cc - c[:, 0] * bb], axis=1)
    offset /= safe[:, None]
    radius = np.linalg.norm(offset, axis=1)
    centroid = corner.mean(axis=1)
    want = size(centroid)
    big = radius / (_FILL * want)
    # Flat triangles between boundary points closer than the size are left to smoothing.
    flat = (radius > 1.3 * sides.min(axis=1)) & (radius > 0.45 * want)
    chosen = np.flatnonzero(sound & ((big > 1.0) | flat))
    centre = a[chosen] + offset[chosen]
    keep = inside(centroid[chosen]) & inside(centre)
    chosen, centre = chosen[keep], centre[keep]
    spaced: Array = centre[_spaced(centre, 0.75 * want[chosen], big[chosen])]
    return spaced


_FILL = 0.68
"""Largest circumradius over wanted side; 1 / sqrt(3) is that of the equilateral triangle."""


def _spaced(points: Array, gap: Array, rank: Array) -> Index:
    """Indices of points that outrank every neighbour closer than their gap."""
    if len(points) == 0:
        return np.zeros(0, dtype=np.intp)
    tree = cKDTree(points)
    pairs = tree.query_pairs(float(gap.max()), output_type="ndarray")
    apart = np.linalg.norm(points[pairs[:, 0]] - points[pairs[:, 1]], axis=1)
    close = pairs[apart < np.maximum(gap[pairs[:, 0]], gap[pairs[:, 1]])]
    # Equal ranks fall to the lower index, so the outcome does not depend on anything else.
    first_wins = rank[close[:, 0]] >= rank[close[:, 1]]
    beaten = np.where(first_wins, close[:, 1], close[:, 0])
    kept = np.ones(len(points), dtype=bool)
    kept[beaten] = False
    return np.flatnonzero(kept)


def _smooth(
    points: Array, triangles: Index, fixed: int, size: Callable[[Array], Array], guard: _Guard
) -> Array:
    """Move free points to the size-weighted mean of the triangles around them."""
    corner = points[triangles]
    centroid = corner.mean(axis=1)
    e, f = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = np.abs(e[:, 0] * f[:, 1] - e[:, 1] * f[:, 0])
    weight = area / size(centroid) ** 2
    where = triangles.ravel()
    spread = np.repeat(weight, 3)
    total = np.bincount(where, weights=spread, minlength=len(points))
    moved = (
        np.stack(
            [
                np.bincount(
                    where, weights=spread * np.repeat(centroid[:, k], 3), minlength=len(points)
                )
                for k in range(2)
            ],
            axis=1,
        )
        / np.maximum(total, 1e-300)[:, None]
    )
    out = points.copy()
    free = np.arange(fixed, len(points))
    free = free[guard.clear(moved[free])]
    out[free] = moved[free]
    return out
