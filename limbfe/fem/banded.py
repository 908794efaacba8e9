"""Banded Cholesky for many symmetric matrices that share one mesh topology.

A section mesh is long and thin once its nodes are numbered well, so its matrix has a narrow
band, and LAPACK's blocked band factorisation then beats a general sparse one several times
(measured in benchmarks/bench_section.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpbtrf, dpbtrs

from limbfe.frames import Array

Integers = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BandPattern:
    """Where the entries of element matrices go in LAPACK's lower band storage.

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
    ndarray, shape (width + 1, size), Fortran order, LAPACK lower band storage
    """
    length = pattern.size * (pattern.width + 1)
    flat = np.bincount(pattern.slots, weights=lower.ravel(), minlength=length)
    band: Array = np.asarray(flat, dtype=np.float64).reshape(pattern.size, -1).T
    return band


def factor_band(band: Array) -> Array | None:
    """Return the Cholesky factor of a band (overwritten), None if it is not positive definite."""
    factor, info = dpbtrf(band, lower=1, overwrite_ab=1)
    return factor if info == 0 else None


def solve_band(factor: Array, right: Array) -> Array:
    """Return the solution for right-hand sides of shape (size, n)."""
    solution: Array = dpbtrs(factor, np.asfortranarray(right), lower=1)[0]
    return solution
