"""Static condensation: the unknowns inside an element leave the system before it is solved.

An element's matrix comes as the rows of its lower triangle, one after the other.  Its last unknowns
belong to it alone, so Gaussian elimination from the last row upwards removes them without touching
another element; what is left of their rows then takes loads in and gives the unknowns back.

References
----------
E. L. Wilson, The static condensation algorithm, International Journal for Numerical Methods in
Engineering 8 (1974), 198-203 (from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from limbfe.compiled import compiled
from limbfe.frames import Array


@compiled
def condense(lower: Array, kept: int, size: int) -> bool:
    """Eliminate the rows from `kept` on of one lower triangle, shape (size (size + 1) / 2,).

    False if the matrix is not positive definite; the rest of it is then of no use.
    """
    for r in range(size - 1, kept - 1, -1):
        row = lower[r * (r + 1) // 2 :]
        if not row[r] > 0.0:
            return False
        for i in range(r):
            share = row[i] / row[r]
            into = lower[i * (i + 1) // 2 :]
            for j in range(i + 1):
                into[j] -= share * row[j]
    return True


@compiled
def condense_loads(lower: Array, dofs: NDArray[np.int64], kept: int, loads: Array) -> None:
    """Carry the loads on eliminated unknowns over to the others.

    Parameters
    ----------
    lower : ndarray, shape (m, p)
        Triangles as `condense` leaves them.
    dofs : ndarray of int, shape (m, size)
    kept : int
    loads : ndarray, shape (c, n)
        Changed in place.
    """
    for e in range(len(dofs)):
        for r in range(dofs.shape[1] - 1, kept - 1, -1):
            row = lower[e, r * (r + 1) // 2 :]
            for c in range(len(loads)):
                share = loads[c, dofs[e, r]] / row[r]
                for i in range(r):
                    loads[c, dofs[e, i]] -= share * row[i]


@compiled
def restore_unknowns(lower: Array, dofs: NDArray[np.int64], kept: int, unknowns: Array) -> None:
    """Put the eliminated unknowns in place of their loads, the others being solved.

    Parameters
    ----------
    lower, dofs, kept
        As in `condense_loads`.
    unknowns : ndarray, shape (c, n)
        Changed in place.
    """
    for e in range(len(dofs)):
        for r in range(kept, dofs.shape[1]):
            row = lower[e, r * (r + 1) // 2 :]
            for c in range(len(unknowns)):
                rest = unknowns[c, dofs[e, r]]
                for i in range(r):
                    rest -= row[i] * unknowns[c, dofs[e, i]]
                unknowns[c, dofs[e, r]] = rest / row[r]
