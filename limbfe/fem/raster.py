"""Which element of a mesh covers each point of a regular grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.fem.mesh import Index, PlaneMesh
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """A regular grid of points ``origin + step * (i, j)``, numbered ``i * ny + j``.

    Attributes
    ----------
    origin : ndarray, shape (2,), m
    step : float, m
    shape : tuple of int, (nx, ny)
    """

    origin: Array
    step: float
    shape: tuple[int, int]


def grid_points(grid: Grid) -> Array:
    """Return the points of a grid, shape (nx * ny, 2)."""
    i, j = np.meshgrid(np.arange(grid.shape[0]), np.arange(grid.shape[1]), indexing="ij")
    points: Array = grid.origin + grid.step * np.stack([i.ravel(), j.ravel()], axis=1)
    return points


def rasterise(mesh: PlaneMesh, grid: Grid) -> tuple[Index, Array]:
    """Return the element and the reference coordinates of every grid point.

    Parameters
    ----------
    mesh : PlaneMesh
    grid : Grid

    Returns
    -------
    element : ndarray of int, shape (nx * ny,)
        -1 where no element covers the point.
    reference : ndarray, shape (nx * ny, 2)
    """
    corners = mesh.nodes[mesh.elements]
    bulge = corners[:, 3:] - 0.5 * (corners[:, :3] + corners[:, [1, 2, 0]])
    bent = np.abs(bulge).max(axis=(1, 2))
    # A curved side bulges past its three nodes by no more than the middle node's offset.
    low = (corners.min(axis=1) - bent[:, None] - grid.origin) / grid.step
    high = (corners.max(axis=1) + bent[:, None] - grid.origin) / grid.step
    last = np.array(grid.shape) - 1
    first = np.clip(np.ceil(low), 0, last + 1).astype(np.intp)
    stop = np.clip(np.floor(high) + 1, 0, last + 1).astype(np.intp)
    span = np.maximum(stop - first, 0)
    count = span[:, 0] * span[:, 1]
    owner = np.repeat(np.arange(len(corners)), count)
    serial = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    i = first[owner, 0] + serial // np.maximum(span[owner, 1], 1)
    j = first[owner, 1] + serial % np.maximum(span[owner, 1], 1)
    x, y = grid.origin[0] + grid.step * i, grid.origin[1] + grid.step * j
    covered, xi = _invert(corners, bulge, owner, x, y)
    element = np.full(grid.shape[0] * grid.shape[1], -1, dtype=np.intp)
    reference = np.zeros((len(element), 2))
    number = (i * grid.shape[1] + j)[covered]
    element[number] = owner[covered]
    reference[number] = xi.T[covered]
    return element, reference


def _invert(
    corners: Array, bulge: Array, owner: Index, x: Array, y: Array
) -> tuple[NDArray[np.bool_], Array]:
    """Which points given elements cover, and their reference coordinates, shape (2, p).

    By Newton where sides are curved: with d the offsets of the middle nodes from the middles of
    straight sides, x = x0 + u r + v s + 4 (d0 r t + d1 r s + d2 s t), t = 1 - r - s.
    """
    start, u, v = (
        corners[:, 0].T,
        (corners[:, 1] - corners[:, 0]).T,
        (corners[:, 2] - corners[:, 0]).T,
    )
    area = u[0] * v[1] - u[1] * v[0]
    # Rows of the inverse of the straight-sided map: gradients of the reference coordinates.
    slope = np.stack([v[1], -v[0], -u[1], u[0]]) / area
    a, b, c, d = slope[:, owner]
    away = np.stack([x, y]) - start[:, owner]
    xi = np.stack([a * away[0] + b * away[1], c * away[0] + d * away[1]])
    bent = np.abs(bulge).max(axis=(1, 2))
    # The middle nodes of three sides move a point by less than twice the largest offset.
    reach = 2.0 * bent * np.hypot(slope[::2], slope[1::2]).max(axis=0)
    reach = np.where(bent > 1e-9 * np.sqrt(area), reach, -1.0)[owner]
    near = np.flatnonzero((reach >= 0.0) & _within(xi, reach))
    element, away = owner[near], away[:, near]
    u, v, (d0, d1, d2) = u[:, element], v[:, element], 4.0 * bulge[element].transpose(1, 2, 0)
    r, s = xi[:, near]
    for _ in range(4):
        t = 1.0 - r - s
        miss = u * r + v * s + d0 * (r * t) + d1 * (r * s) + d2 * (s * t) - away
        by_r = u + d0 * (t - r) + (d1 - d2) * s
        by_s = v + (d1 - d0) * r + d2 * (t - s)
        turn = by_r[0] * by_s[1] - by_r[1] * by_s[0]
        r = r - (miss[0] * by_s[1] - miss[1] * by_s[0]) / turn
        s = s - (miss[1] * by_r[0] - miss[0] * by_r[1]) / turn
    xi[:, near] = r, s
    return _within(xi, 1e-7), xi


def _within(xi: Array, slack: Array | float) -> NDArray[np.bool_]:
    r, s = xi
    inner: NDArray[np.bool_] = (r >= -slack) & (s >= -slack) & (r + s <= 1.0 + 2.0 * slack)
    return inner
