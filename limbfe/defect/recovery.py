"""Smooth values from quadrature points, at nodes and on a sampling grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from limbfe.fem.mesh import Index, PlaneMesh, Quadrature
from limbfe.fem.quadrature import triangle_rule
from limbfe.fem.raster import Grid, grid_points
from limbfe.frames import Array

NODE_AT = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.5, 0.0], [0.5, 0.5], [0.0, 0.5]])
"""Reference coordinates of the six nodes."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Corners:
    """Nodes told apart by the region they are seen from, so that strain may jump at a rim.

    Attributes
    ----------
    number : ndarray of int, shape (m, 6)
        Number of each element node among the distinct (region, node) pairs.
    node, region : ndarray of int, shape (pairs,)
    """

    number: Index
    node: Index
    region: Index


def mesh_corners(mesh: PlaneMesh) -> Corners:
    """Return the distinct (region, node) pairs of a mesh."""
    elements, region = mesh.elements, mesh.region
    size = len(mesh.nodes)
    keys = region[:, None] * size + elements
    pairs, number = np.unique(keys, return_inverse=True)
    part, node = np.divmod(pairs, size)
    return Corners(number=number.reshape(elements.shape), node=node, region=part)


def node_means(at: Quadrature, corners: Corners, values: Array) -> Array:
    """Return values at region nodes, shape (pairs, c), from quadrature points, shape (m, q, c)."""
    reference, _ = triangle_rule(4)
    fit = _line_terms(NODE_AT) @ np.linalg.pinv(_line_terms(reference))
    at_nodes = np.matmul(fit, values)
    area = at.weights.sum(axis=1)
    weight = np.repeat(area, 6)
    where = corners.number.ravel()
    count = len(corners.node)
    total = np.bincount(where, weights=weight, minlength=count)
    sums = [
        np.bincount(where, weights=weight * at_nodes[..., k].ravel(), minlength=count)
        for k in range(values.shape[2])
    ]
    mean: Array = np.stack(sums, axis=1) / total[:, None]
    return mean


def _line_terms(points: Array) -> Array:
    return np.column_stack([np.ones(len(points)), points])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """Wood points on a regular grid, and those just past a rim or an edge.

    A cell that a rim cuts has corners off the wood.  A field goes on to them as the plane that fits
    it best nearby, so that means over what is left of such a cell keep second order.

    Attributes
    ----------
    grid : Grid
    number : ndarray of int, shape ((nx + 1) * (ny + 1),)
        Number of each grid point among `points`, -1 for others; the grid has one row and one
        column more here, so that the cell of every point has four corners.
    points : ndarray, shape (w + e, 2), m
        The w points in the wood, then the e past it.
    beyond : sparse array, shape (e, w)
        Values past the wood from those in it.
    """

    grid: Grid
    number: NDArray[np.int32]
    points: Array
    beyond: sparse.csr_array

    @property
    def wood(self) -> Array:
        """Points in the wood, shape (w, 2), m."""
        return self.points[: self.beyond.shape[1]]

    def extended(self, values: Array) -> Array:
        """Return values in the wood, shape (w,), with those past it, shape (w + e,)."""
        return np.concatenate([values, self.beyond @ values])


LEVEL = 1e-9
"""What a slope costs that nothing tells, over the weight of the points."""
AROUND = 2
"""Grid points each way round one past the wood from whose values its own follows."""


def lay_samples(grid: Grid, wood: NDArray[np.bool_]) -> Samples:
    """Return the samples of a grid, shape (nx * ny,) saying which of its points are wood."""
    nx, ny = grid.shape
    pad = AROUND + 1
    number = np.full((nx + 2 * pad, ny + 2 * pad), -1, dtype=np.int32)
    inner = (slice(pad, pad + nx), slice(pad, pad + ny))
    number[inner][wood.reshape(grid.shape)] = np.arange(np.count_nonzero(wood))
    near = np.zeros(number.shape, dtype=bool)
    for di in (-1, 0, 1):
        for dj in (-1, 0, 1):
            near |= np.roll(number, (di, dj), axis=(0, 1)) >= 0
    i, j = np.nonzero(near & (number < 0))
    on_grid = (i >= pad) & (i <= pad + nx) & (j >= pad) & (j <= pad + ny)
    i, j = i[on_grid], j[on_grid]
    beyond = _planes(number, i, j, int(np.count_nonzero(wood)))
    number[i, j] = beyond.shape[1] + np.arange(len(i))
    past = grid.origin + grid.step * (np.stack([i, j], axis=1) - pad)
    return Samples(
        grid=grid,
        number=number[pad : pad + nx + 1, pad : pad + ny + 1].ravel(),
        points=np.concatenate([grid_points(grid)[wood], past]),
        beyond=beyond,
    )


def _planes(number: NDArray[np.int32], i: Index, j: Index, count: int) -> sparse.csr_array:
    """Values at grid points from the plane that fits the wood round each, what is near the most.

    Where that wood lies on one line the plane is level across it.
    """
    di, dj = (k.ravel() for k in np.mgrid[-AROUND : AROUND + 1, -AROUND : AROUND + 1])
    columns = number[i[:, None] + di, j[:, None] + dj]
    weight = (columns >= 0) / np.maximum(di * di + dj * dj, 1.0) ** 2
    terms = np.stack([np.ones(len(di)), di, dj])
    normal = np.einsum("gn,an,bn->gab", weight, terms, terms)
    normal[:, [1, 2], [1, 2]] += LEVEL * normal[:, :1, 0]
    share = np.linalg.solve(normal, np.broadcast_to([1.0, 0.0, 0.0], (len(i), 3))[..., None])
    value = weight * (share[..., 0] @ terms)
    taken = columns >= 0
    row_ends = np.concatenate([[0], np.cumsum(taken.sum(axis=1))])
    return sparse.csr_array((value[taken], columns[taken], row_ends), shape=(len(i), count))
