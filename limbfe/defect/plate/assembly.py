"""Stiffness matrix of a layered plate, unknowns interleaved node by node."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import sparse

from limbfe.compiled import as_read, compiled
from limbfe.defect.plate.depth import Integrals
from limbfe.fem.fronts import Blocks, Fronts, lay_fronts
from limbfe.fem.mesh import Index, PlaneMesh, Quadrature
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NodePattern:
    """Where the blocks of node pairs fall in a matrix with `unknowns` rows a node.

    Attributes
    ----------
    unknowns : int
    indptr, indices : ndarray of int
        Compressed sparse columns.
    slots : ndarray of int, shape (m, k, k)
        Number of the pair (row, column) of nodes among all pairs.
    first, stride : ndarray of int, shape (pairs,)
        Entry (a, b) of a pair's block lies at ``first + b stride + a``.
    """

    unknowns: int
    indptr: Index
    indices: Index
    slots: Index
    first: Index
    stride: Index


@lru_cache(maxsize=2)
def _node_pairs(mesh: PlaneMesh) -> tuple[Index, Index]:
    """Return all pairs of nodes of a mesh, column by column, and which every element has.

    A plate is solved again and again on one mesh, and to find them takes as long as to solve it.
    """
    n_nodes, elements = len(mesh.nodes), mesh.elements
    keys = (elements[:, None, :] * np.int64(n_nodes) + elements[:, :, None]).ravel()
    pairs, slots = np.unique(keys, return_inverse=True)
    return pairs, slots.reshape(len(elements), elements.shape[1], -1)


@lru_cache(maxsize=2)
def _fronts(mesh: PlaneMesh) -> Fronts:
    """Return the order in which the nodes of a mesh are eliminated, the same of all its plates."""
    column, row = np.divmod(_node_pairs(mesh)[0], len(mesh.nodes))
    return lay_fronts(column, row, len(mesh.nodes))


def node_blocks(mesh: PlaneMesh, pattern: NodePattern) -> Blocks:
    """Return what the factorisation of a matrix of that pattern goes by."""
    return Blocks(
        fronts=_fronts(mesh),
        unknowns=pattern.unknowns,
        first=pattern.first,
        stride=pattern.stride,
    )


@lru_cache(maxsize=1)
def node_pattern(mesh: PlaneMesh, unknowns: int) -> NodePattern:
    """Return the pattern of a mesh with any number of unknowns a node."""
    n_nodes = len(mesh.nodes)
    pairs, slots = _node_pairs(mesh)
    column, row = np.divmod(pairs, n_nodes)
    degree = np.bincount(column, minlength=n_nodes)
    start = np.concatenate([[0], np.cumsum(degree)])
    offset = np.arange(len(row)) - start[column]
    u = unknowns
    first, stride = u * u * start[column] + u * offset, u * degree[column]
    indices = np.empty(u * u * len(pairs), dtype=np.int32)
    _number_rows(indices, first, stride, row, u)
    ptr = u * u * start[:-1, None] + np.arange(u) * (u * degree)[:, None]
    return NodePattern(
        unknowns=u,
        indptr=np.append(ptr.ravel(), len(indices)).astype(np.int32),
        indices=indices,
        slots=slots,
        first=first,
        stride=stride,
    )


def plate_matrix(
    pattern: NodePattern, at: Quadrature, integrals: Integrals, *, deflects: bool = True
) -> sparse.csc_array:
    """Assemble the stiffness of a plate.

    Parameters
    ----------
    pattern : NodePattern
        With ``2 K + 1`` unknowns a node: u_x1, u_y1, u_x2, ..., w; without the last if the plate
        does not deflect.
    at : Quadrature
    integrals : Integrals
        At its points, element by element.

    Returns
    -------
    sparse array, shape (n, n), N/m
    """
    m, q = at.weights.shape
    data = np.zeros(len(pattern.indices))
    _fill(
        data,
        pattern.slots.astype(np.int64, copy=False),
        pattern.first.astype(np.int64, copy=False),
        pattern.stride.astype(np.int64, copy=False),
        as_read(at.gradients),
        as_read(at.values),
        as_read(at.weights),
        as_read(integrals.D.reshape(m, q, *integrals.D.shape[1:])),
        as_read(integrals.H.reshape(m, q, *integrals.H.shape[1:])),
        as_read(integrals.h.reshape(m, q, *integrals.h.shape[1:])),
        as_read(integrals.S.reshape(m, q, 3)),
        pattern.unknowns,
    )
    size = len(pattern.indptr) - 1
    return sparse.csc_array((data, pattern.indices, pattern.indptr), shape=(size, size))


@compiled
def _number_rows(indices: Index, first: Index, stride: Index, row: Index, unknowns: int) -> None:
    for p in range(len(row)):
        for b in range(unknowns):
            at = first[p] + b * stride[p]
            for a in range(unknowns):
                indices[at + a] = unknowns * row[p] + a


@compiled
def _fill(
    data: Array, slots: Index, first: Index, stride: Index, gradients: Array, values: Array,
    weights: Array, D: Array, H: Array, h: Array, S: Array, unknowns: int,
) -> None:  # fmt: skip
    m, q, k, _ = gradients.shape
    K = D.shape[2]
    block = np.empty((k * unknowns, k * unknowns))
    turned = np.empty((2, 3))
    for e in range(m):
        block[:] = 0.0
        for g in range(q):
            w = weights[e, g]
            for j in range(k):
                xj, yj, vj = gradients[e, g, j, 0], gradients[e, g, j, 1], values[g, j]
                for a in range(K):
                    for b in range(K):
                        d = D[e, g, a, b]
                        turned[0, 0] = w * (d[0] * xj + d[4] * yj)
                        turned[0, 1] = w * (d[3] * xj + d[5] * yj)
                        turned[0, 2] = w * (d[4] * xj + d[2] * yj)
                        turned[1, 0] = w * (d[3] * yj + d[4] * xj)
                        turned[1, 1] = w * (d[1] * yj + d[5] * xj)
                        turned[1, 2] = w * (d[5] * yj + d[2] * xj)
                        s = H[e, g, a, b]
                        sxx, syy, sxy = w * vj * s[0], w * vj * s[1], w * vj * s[2]
                        column = j * unknowns + 2 * b
                        for i in range(k):
                            xi, yi, vi = gradients[e, g, i, 0], gradients[e, g, i, 1], values[g, i]
                            row = i * unknowns + 2 * a
                            block[row, column] += xi * turned[0, 0] + yi * turned[0, 2] + vi * sxx
                            block[row + 1, column] += (
                                yi * turned[0, 1] + xi * turned[0, 2] + vi * sxy
                            )
                            block[row, column + 1] += (
                                xi * turned[1, 0] + yi * turned[1, 2] + vi * sxy
                            )
                            block[row + 1, column + 1] += (
                                yi * turned[1, 1] + xi * turned[1, 2] + vi * syy
                            )
                if unknowns > 2 * K:
                    column = (j + 1) * unknowns - 1
                    for i in range(k):
                        xi, yi, vi = gradients[e, g, i, 0], gradients[e, g, i, 1], values[g, i]
                        row = i * unknowns
                        for a in range(K):
                            s = h[e, g, a]
                            gx = w * vi * (s[0] * xj + s[2] * yj)
                            gy = w * vi * (s[2] * xj + s[1] * yj)
                            block[row + 2 * a, column] += gx
                            block[row + 2 * a + 1, column] += gy
                            block[column, row + 2 * a] += gx
                            block[column, row + 2 * a + 1] += gy
                        s = S[e, g]
                        block[row + unknowns - 1, column] += w * (
                            xi * (s[0] * xj + s[2] * yj) + yi * (s[2] * xj + s[1] * yj)
                        )
        for i in range(k):
            for j in range(k):
                pair = slots[e, i, j]
                for b in range(unknowns):
                    place = first[pair] + b * stride[pair]
                    for a in range(unknowns):
                        data[place + a] += block[i * unknowns + a, j * unknowns + b]
