"""Smooth values from quadrature points, at nodes and on a sampling grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.fem.mesh import Index, PlaneMesh, Quadrature
from limbfe.fem.quadrature import triangle_rule
from limbfe.fem.raster import Grid
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
    """Wood points on a regular grid.

    Attributes
    ----------
    grid : Grid
    number : ndarray of int, shape ((nx + 1) * (ny + 1),)
        Number of each grid point among the wood points, -1 for others; the grid has one row and
        one column more here, so that the cell of every point has four corners.
    points : ndarray, shape (w, 2), m
        Those points only.
    """

    grid: Grid
    number: NDArray[np.int32]
    points: Array


def grid_numbers(grid: Grid, wood: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Return the number of every grid point among those that are wood; see `Samples`."""
    table = np.full((grid.shape[0] + 1, grid.shape[1] + 1), -1, dtype=np.int32)
    inner = table[:-1, :-1]
    inner[wood.reshape(grid.shape)] = np.arange(np.count_nonzero(wood))
    return table.ravel()
