"""Sparse factorisation of symmetric stiffness matrices with prescribed displacements."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from limbfe.errors import ConvergenceError
from limbfe.fem.fronts import Blocks, factorise_fronts
from limbfe.fem.mesh import Index
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Factor:
    """A factorised stiffness matrix, ready for any number of load cases.

    Attributes
    ----------
    fixed : ndarray of int
        Degrees of freedom with given displacement.
    factors : SuperLU or FrontFactors
        Of the stiffness with the rows and columns of `fixed` set to the unit matrix's.
    coupling : sparse array, shape (n, fixed)
        The columns of `fixed`.
    """

    fixed: Index
    factors: Any
    coupling: Any


def factorise(stiffness: sparse.csc_array, fixed: Index, blocks: Blocks | None = None) -> Factor:
    """Factorise a symmetric positive definite stiffness matrix.

    Parameters
    ----------
    stiffness : sparse array, shape (n, n)
    fixed : ndarray of int
        Degrees of freedom whose displacement will be given.
    blocks : Blocks, optional
        Where its node blocks lie.  It is then factorised front by front, four to six times faster
        with some ten thousand unknowns.

    Raises
    ------
    ConvergenceError
        If the matrix is singular: the model can move without strain.

    Notes
    -----
    Without blocks, minimum degree ordering on A^T + A with diagonal pivots; for these matrices 3
    times faster than SuperLU's default column ordering, which is meant for unsymmetric ones.
    Narrow panels save another 5 %.  Tried and left: nested dissection of our own (a third more
    operations), condensing patches of elements first (as much fill in the rest).
    """
    n = stiffness.shape[0]
    held = np.zeros(n, dtype=bool)
    held[fixed] = True
    # Held rows and columns become those of the unit matrix.
    row, start = stiffness.indices, stiffness.indptr
    in_row, in_column = held[row], np.repeat(held, np.diff(start))
    data = np.where(in_row | in_column, 0.0, stiffness.data)
    both = np.flatnonzero(in_row & in_column)
    data[both[row[both] == np.searchsorted(start, both, side="right") - 1]] = 1.0
    block = sparse.csc_array((data, row, start), shape=(n, n))
    # Rounding may leave a pivot of what is next to nothing, such as a void, below zero.
    factors = (blocks and factorise_fronts(blocks, data)) or _lower_upper(block)
    # A load that works on every motion: a rigid part answers it with a huge displacement whose
    # rounding shows in the residual.
    probe = np.cos(np.arange(n) * 2.399963) * np.abs(data).max()
    miss = probe - block @ factors.solve(probe)
    if not np.abs(miss).max() < _MISS * np.abs(probe).max():
        # What is soft but held, such as the void of a loose knot at an edge, answers a second time
        # with the square of its first miss; a rigid part misses again.
        miss -= block @ factors.solve(miss)
    if not np.abs(miss).max() < _MISS * np.abs(probe).max():
        raise ConvergenceError(_SINGULAR)
    return Factor(
        fixed=np.asarray(fixed), factors=factors, coupling=stiffness[:, np.asarray(fixed)]
    )


def _lower_upper(matrix: sparse.csc_array) -> Any:
    """Return SuperLU's factors."""
    # Zeros of held rows and columns, filled in like any entry, would cost up to an eighth.
    matrix = matrix.copy()
    matrix.eliminate_zeros()
    try:
        return splu(
            matrix,
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            relax=1,
            panel_size=8,
            options={"SymmetricMode": True, "Equil": False},
        )
    except RuntimeError as error:
        raise ConvergenceError(_SINGULAR) from error


_MISS = 1e-6
_SINGULAR = (
    "stiffness matrix is singular: part of the model can move without strain; "
    "tie the loose part or fix its displacement"
)


COLUMNS = 16
"""Load cases solved at a time: more of them no longer fit the cache, a third slower a column."""


def solve(factor: Factor, load: Array, given: Array) -> Array:
    """Return displacements under nodal loads and given displacements.

    Parameters
    ----------
    load : ndarray, shape (n, r)
    given : ndarray, shape (fixed, r)

    Returns
    -------
    ndarray, shape (n, r)

    Raises
    ------
    ConvergenceError
        If the displacements are not finite.
    """
    right = load - factor.coupling @ given
    right[factor.fixed] = given
    out: Array = np.empty_like(right)
    for start in range(0, right.shape[1], COLUMNS):
        some = slice(start, start + COLUMNS)
        out[:, some] = factor.factors.solve(right[:, some])
    if not np.all(np.isfinite(out)):
        raise ConvergenceError("loads or given displacements are not finite numbers")
    return out
