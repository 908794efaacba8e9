"""Banded Cholesky for many symmetric matrices that share one mesh topology.

A section mesh is long and thin once its nodes are numbered well, so its matrix has a narrow
band, which a band factorisation handles several times faster than a general sparse one (measured
in benchmarks/bench_section.py).  LAPACK's is no faster at these widths, and SciPy's linear
algebra takes an eighth of a second to load before every command.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.compiled import compiled
from limbfe.frames import Array

Integers = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BandPattern:
    """Where the entries of element matrices go in the band of `assemble_band`.

    Attributes
    ----------
    size : int
        Number of unknowns.
    width : int
        Number of sub-diagonals.
    dofs : ndarray of int, shape (m, k * per_node)
        Band row of every element unknown, node by node.
    dofs_of_nodes : ndarray of int, shape (n_nodes, per_node)
        Band row of every unknown.
    pairs : tuple of ndarray of int, each shape (p,)
        Row and column, in the element matrix, of the p lower-triangle entries that are kept.
    slots : ndarray of int, shape (m * p,)
        Place of each kept entry in the flattened band.
    """

    size: int
    width: int
    dofs: Integers
    dofs_of_nodes: Integers
    pairs: tuple[Integers, Integers]
    slots: Integers


def band_pattern(elements: Integers, n_nodes: int, per_node: int) -> BandPattern:
    """Return the band storage of a mesh, its nodes renumbered when that narrows the band.

    Parameters
    ----------
    elements : ndarray of int, shape (m, k), node numbers
    n_nodes : int
    per_node : int
        Unknowns per node.

    Notes
    -----
    A numbering as narrow as that of a square lattice is kept; any other unless reverse
    Cuthill-McKee (E. Cuthill and J. McKee, Reducing the bandwidth of sparse symmetric matrices,
    Proc. 24th ACM National Conference (1969), 157-172, reversed) gives a narrower band.
    """
    rank = _best_rank(elements, n_nodes)
    dofs_of_nodes = per_node * rank[:, None] + np.arange(per_node)
    dofs = dofs_of_nodes[elements].reshape(len(elements), -1)
    row, column = np.tril_indices(dofs.shape[1])
    high = np.maximum(dofs[:, row], dofs[:, column])
    low = np.minimum(dofs[:, row], dofs[:, column])
    width = int((high - low).max())
    slots = (low * (width + 1) + (high - low)).ravel()
    return BandPattern(
        size=int(per_node * n_nodes),
        width=width,
        dofs=dofs,
        dofs_of_nodes=dofs_of_nodes,
        pairs=(row, column),
        slots=slots,
    )


def _best_rank(elements: Integers, n_nodes: int) -> Integers:
    given = np.arange(n_nodes, dtype=np.int64)
    # Second-order squares, as many columns as rows: 2 n + 1 nodes a side, reaching two columns on.
    if _spread(elements) <= 2.0 * np.sqrt(n_nodes) + 2.0:
        return given
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import reverse_cuthill_mckee

    k = elements.shape[1]
    rows, columns = np.repeat(elements, k, axis=1).ravel(), np.tile(elements, (1, k)).ravel()
    graph = coo_array((np.ones(rows.size), (rows, columns)), shape=(n_nodes, n_nodes)).tocsr()
    rank = np.empty(n_nodes, dtype=np.int64)
    rank[reverse_cuthill_mckee(graph, symmetric_mode=True)] = np.arange(n_nodes)
    return given if _spread(elements) <= _spread(rank[elements]) else rank


def _spread(elements: Integers) -> int:
    return int((elements.max(axis=1) - elements.min(axis=1)).max())


def assemble_band(pattern: BandPattern, lower: Array) -> Array:
    """Return the band of one matrix from the lower triangles of its element matrices.

    Parameters
    ----------
    lower : ndarray, shape (m, p)
        Element entries at ``pattern.pairs``.

    Returns
    -------
    ndarray, shape (size, width + 1)
        Entry (j, k) is that of row j + k and column j of the matrix.
    """
    length = pattern.size * (pattern.width + 1)
    flat = np.bincount(pattern.slots, weights=lower.ravel(), minlength=length)
    band: Array = np.asarray(flat, dtype=np.float64).reshape(pattern.size, -1)
    return band


@compiled
def factor_band(band: Array) -> bool:
    """Overwrite a band by its Cholesky factor; False if it is not positive definite."""
    size, width = band.shape
    for j in range(size):
        column = band[j]
        if not column[0] > 0.0:
            return False
        column[0] = math.sqrt(column[0])
        reach = min(width, size - j)
        for k in range(1, reach):
            column[k] /= column[0]
        for k in range(1, reach):
            share, into = column[k], band[j + k]
            for i in range(reach - k):
                into[i] -= share * column[k + i]
    return True


@compiled
def solve_band(factor: Array, right: Array) -> None:
    """Overwrite right-hand sides, shape (c, n) with n at least the size, by their solutions."""
    size, width = factor.shape
    for c in range(len(right)):
        row = right[c]
        for j in range(size):
            column, below = factor[j], row[j:]
            below[0] /= column[0]
            for k in range(1, min(width, size - j)):
                below[k] -= below[0] * column[k]
        for j in range(size - 1, -1, -1):
            column, below = factor[j], row[j:]
            reach = min(width, size - j)
            # Four sums side by side, as one after the other would wait for each product.
            sum_0 = sum_1 = sum_2 = sum_3 = 0.0
            for k in range(1, reach - 3, 4):
                sum_0 += column[k] * below[k]
                sum_1 += column[k + 1] * below[k + 1]
                sum_2 += column[k + 2] * below[k + 2]
                sum_3 += column[k + 3] * below[k + 3]
            for k in range(reach - (reach - 1) % 4, reach):
                sum_0 += column[k] * below[k]
            below[0] = (below[0] - (sum_0 + sum_1) - (sum_2 + sum_3)) / column[0]
