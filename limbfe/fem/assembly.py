"""Assembly of plane elasticity into SciPy sparse matrices, without a loop over elements."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from limbfe.fem.mesh import Index, Quadrature
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pattern:
    """Where the entries of element matrices fall in the global matrix.

    Degrees of freedom are interleaved: ``2 i`` along x and ``2 i + 1`` along y of node i.

    Attributes
    ----------
    indptr, indices : ndarray of int
        Compressed sparse columns of the (2 n, 2 n) matrix.
    slots : ndarray of int, shape (m * k * k,)
        Number, among the pairs of neighbouring nodes, of each node pair of each element.
    first, second : ndarray of int, shape (pairs,)
        Places of the pair (i, j) in the columns 2 j and 2 j + 1, the data array taken two by two:
        rows 2 i and 2 i + 1 are neighbours.
    """

    indptr: Index
    indices: Index
    slots: Index
    first: Index
    second: Index


def make_pattern(elements: Index, n_nodes: int) -> Pattern:
    """Return the pattern of a mesh with two degrees of freedom per node.

    Parameters
    ----------
    elements : ndarray of int, shape (m, k)
    n_nodes : int
    """
    pairs = (elements[:, None, :] * np.int64(n_nodes) + elements[:, :, None]).ravel()
    order = np.argsort(pairs)
    pairs = pairs[order]
    fresh = np.ones(len(order), dtype=bool)
    np.not_equal(pairs[1:], pairs[:-1], out=fresh[1:])
    slots = np.empty(len(order), dtype=np.intp)
    slots[order] = np.cumsum(fresh) - 1
    column, row = np.divmod(pairs[fresh], n_nodes)

    degree = np.bincount(column, minlength=n_nodes)
    start = np.concatenate([[0], np.cumsum(degree)])
    offset = np.arange(len(row)) - start[column]
    indptr = np.empty(2 * n_nodes + 1, dtype=np.int32)
    indptr[0::2] = 4 * start
    indptr[1::2] = 4 * start[:-1] + 2 * degree
    first = 2 * start[column] + offset
    second = first + degree[column]
    # Two neighbouring rows move as one number of twice the size: a third of the time.
    rows = np.empty((len(row), 2), dtype=np.int32)
    rows[:, 0], rows[:, 1] = 2 * row, 2 * row + 1
    indices = np.empty(2 * len(row), dtype=np.int64)
    indices[first] = indices[second] = rows.view(np.int64)[:, 0]
    return Pattern(
        indptr=indptr, indices=indices.view(np.int32), slots=slots, first=first, second=second
    )


def element_stiffness(at: Quadrature, stiffness: Array) -> Array:
    """Return element matrices of plane elasticity as blocks.

    Parameters
    ----------
    stiffness : ndarray, shape (m, q, 3, 3), Pa
        Symmetric; takes [eps_xx, eps_yy, gamma_xy] to [s_xx, s_yy, s_xy].

    Returns
    -------
    ndarray, shape (3, m, k, k), N/m per metre of thickness
        Blocks xx, xy and yy; block yx is the transpose of xy.
    """
    m, _, k, _ = at.gradients.shape
    out = np.empty((3, m, k, k))
    # A few hundred elements at a time keep the intermediate arrays in cache.
    for start in range(0, m, _CHUNK):
        part = slice(start, start + _CHUNK)
        _stiffness_blocks(at.gradients[part], stiffness[part], at.weights[part], out[:, part])
    return out


_CHUNK = 512


def _stiffness_blocks(gradients: Array, stiffness: Array, weights: Array, out: Array) -> None:
    m, q, k, _ = gradients.shape
    gx = np.ascontiguousarray(gradients[..., 0])
    gy = np.ascontiguousarray(gradients[..., 1])
    left = np.concatenate([gx, gy], axis=1).transpose(0, 2, 1)
    c = (stiffness * weights[..., None, None])[..., None]
    right = np.empty((m, 2 * q, k))
    # Strain picks: x displacement makes (eps_xx, gamma_xy), y displacement (gamma_xy, eps_yy).
    for block, (rows, columns) in enumerate(((_X, _X), (_X, _Y), (_Y, _Y))):
        for row, half in zip(rows, (slice(0, q), slice(q, None)), strict=True):
            right[:, half] = c[:, :, row, columns[0]] * gx + c[:, :, row, columns[1]] * gy
        np.matmul(left, right, out=out[block])


_X, _Y = (0, 2), (2, 1)


def assemble(pattern: Pattern, blocks: Array, some: NDArray[np.bool_] | None = None) -> Array:
    """Return the data array of the global matrix; `matrix` wraps it.

    Data arrays of one pattern add up like the matrices they belong to, so parts of a mesh may
    be assembled once and combined.

    Parameters
    ----------
    blocks : ndarray, shape (3, m, k, k), from `element_stiffness`
    some : ndarray of bool, shape (all elements,), optional
        Which elements of the mesh the m blocks belong to, if not to all.
    """
    n = len(pattern.first)
    slots = pattern.slots if some is None else pattern.slots.reshape(len(some), -1)[some].ravel()
    xx, xy, yy = blocks
    data = np.empty(2 * n, dtype=np.complex128)
    for place, upper, lower in (
        (pattern.first, xx, xy.transpose(0, 2, 1)),
        (pattern.second, xy, yy),
    ):
        column = np.empty(n, dtype=np.complex128)
        column.real = np.bincount(slots, weights=upper.ravel(), minlength=n)
        column.imag = np.bincount(slots, weights=lower.ravel(), minlength=n)
        data[place] = column
    return data.view(np.float64)


def matrix(pattern: Pattern, data: Array) -> sparse.csc_array:
    """Return the sparse matrix of a data array."""
    n = len(pattern.indptr) - 1
    return sparse.csc_array((data, pattern.indices, pattern.indptr), shape=(n, n))


def strains(at: Quadrature, elements: Index, displacement: Array) -> Array:
    """Return strains at quadrature points.

    Parameters
    ----------
    displacement : ndarray, shape (2 n,), m

    Returns
    -------
    ndarray, shape (m, q, 3): eps_xx, eps_yy, gamma_xy
    """
    u = displacement.reshape(-1, 2)[elements]
    slope = np.einsum("mqkd,mkc->mqcd", at.gradients, u, optimize=True)
    return np.stack(
        [slope[..., 0, 0], slope[..., 1, 1], slope[..., 0, 1] + slope[..., 1, 0]], axis=-1
    )
