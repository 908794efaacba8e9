"""Energy set free by a crack at every length of it, from one factorised stiffness matrix.

The nodes along the whole line are doubled and the model is solved with the line open.  Forces
``lambda`` on the pairs close the part that has not split.  With the flexibility ``D = J K^-1 J^T``
of the pairs and their free jump ``g``, the pairs S that are tied bear ``D_SS lambda_S = g_S`` and
the energy is ``lambda . D lambda / 2`` above that of the open line.  With the rows in the order in
which they stay tied longest, ``D = L L^T`` and ``y = L^-1 g`` hold the answer for every length at
once: the tied rows are the first m, ``y_1`` is what they bear, ``|y_1|^2 / 2`` the energy, and
``L_22 y_2`` the jumps of the rest.

References
----------
E. F. Rybicki, M. F. Kanninen, A finite element calculation of stress intensity factors by a
modified crack closure integral, Engineering Fracture Mechanics 9 (1977), 931-938 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.linalg import cho_factor, cho_solve, cholesky, solve_triangular

from limbfe.errors import ConvergenceError
from limbfe.fem.mesh import Index
from limbfe.fem.solve import COLUMNS
from limbfe.frames import Array

RIDGE = 1e-11
"""Of the largest diagonal: keeps pairs that are held twice, as on a line of symmetry, solvable."""

Answer = Callable[[Array], Array]
"""From nodal forces, shape (n, r), to displacements with the crack open, shape (n, r): linear."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Closure:
    """What the pairs of a line answer to forces on them.

    Attributes
    ----------
    jump : sparse array, shape (r, n)
        From displacements to the jumps of the r rows.
    flexibility : ndarray, shape (r, r)
        Jumps under unit forces that open the rows.
    normal : ndarray of bool, shape (r,)
        Rows that open and may press; the others slide, or are other jumps that never press.
    """

    jump: sparse.csr_array
    flexibility: Array
    normal: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Growth:
    """A crack at every length, under one load.

    Attributes
    ----------
    length : ndarray, shape (k + 1,), m
        From no crack to the whole line.
    energy : ndarray, shape (k + 1,), J per metre of thickness
        Set free by the crack so far, at constant forces; at given displacements, lost.
    G_I, G_II : ndarray, shape (k,), J/m2
        Of the step from each length to the next, per tip.
    force : ndarray, shape (k + 1, r), N per metre of thickness
        That closes each row: pull is positive on normal rows, pressure negative.
    opened : ndarray, shape (k + 1, r), m
        Jump of each row.
    """

    length: Array
    energy: Array
    G_I: Array
    G_II: Array
    force: Array
    opened: Array

    @property
    def middle(self) -> Array:
        """Length in the middle of every step, shape (k,), m."""
        out: Array = 0.5 * (self.length[1:] + self.length[:-1])
        return out


def make_closure(jump: sparse.csr_array, normal: NDArray[np.bool_], answer: Answer) -> Closure:
    """Return the flexibility of the pairs; a few right-hand sides at a time.

    Parameters
    ----------
    jump : sparse array, shape (r, n)
    normal : ndarray of bool, shape (r,)
    answer : callable
        `Answer` of the model with the whole line open.
    """
    r = jump.shape[0]
    out = np.empty((r, r))
    forces = sparse.csc_array(jump.T)
    for start in range(0, r, COLUMNS):
        some = slice(start, start + COLUMNS)
        out[:, some] = jump @ answer(forces[:, some].toarray())
    return Closure(jump=jump, flexibility=0.5 * (out + out.T), normal=normal)


def grow(
    closure: Closure,
    free: Array,
    step: Index,
    length: Array,
    *,
    tips: int = 1,
    contact: bool = True,
    only: NDArray[np.bool_] | None = None,
) -> Growth:
    """Return energy and energy release of a crack at every length.

    Parameters
    ----------
    closure : Closure
    free : ndarray, shape (r,), m
        Jumps under the load with the whole line open and nothing pressing.
    step : ndarray of int, shape (r,)
        Step in which a row is freed, from 1 to k; 0 for rows that are free from the start, k + 1
        or more for rows never freed.
    length : ndarray, shape (k + 1,), m
    tips : int
        Number of tips that grow together.
    contact : bool
        Whether faces that would overlap press on each other, without friction.  Where they do not,
        G_I can come out for faces that overlap.
    only : ndarray of bool, shape (r,), optional
        Rows of the line; the others are left open altogether.

    Raises
    ------
    ConvergenceError
        If the pairs are not independent, or the contact does not settle.
    """
    rows = np.arange(len(step)) if only is None else np.flatnonzero(only)
    rows = rows[np.argsort(-step[rows], kind="stable")]
    D = closure.flexibility[np.ix_(rows, rows)]
    D[np.diag_indices_from(D)] += RIDGE * D.diagonal().max()
    try:
        L = cholesky(D, lower=True, check_finite=False)
    except np.linalg.LinAlgError as error:
        raise ConvergenceError("crack: its pairs of nodes are not independent") from error
    y = solve_triangular(L, free[rows], lower=True, check_finite=False)
    normal = closure.normal[rows]
    order = -step[rows]
    count = len(length)
    force = np.zeros((count, len(step)))
    opened = np.zeros((count, len(step)))
    energy = np.empty(count)
    touching = np.zeros(len(rows), dtype=bool)
    faces = np.flatnonzero(normal)
    gives, before = np.zeros((len(faces), len(faces))), len(rows)
    for k in range(count):
        tied = int(np.searchsorted(order, -k, side="left"))
        # what is freed adds to what the loose faces give to pressure
        freed = L[faces, tied:before]
        gives += freed @ freed.T
        before = tied
        loose = L[tied:, tied:]
        pressing = np.flatnonzero(normal[tied:])
        pressure = np.zeros(len(pressing))
        if contact and len(pressing):
            own = slice(len(faces) - len(pressing), None)
            pressure = _pressure(
                loose[pressing], y[tied:], gives[own, own], touching[tied:][pressing]
            )
            touching[tied:][pressing] = pressure > 0.0
        rest = y[tied:] + loose[pressing].T @ pressure
        bears = y[:tied] + L[tied + pressing, :tied].T @ pressure
        mine = force[k]
        if tied:  # SciPy before 1.14 refuses an empty system
            mine[rows[:tied]] = solve_triangular(
                L[:tied, :tied], bears, lower=True, trans="T", check_finite=False
            )
        mine[rows[tied + pressing]] = -pressure
        opened[k, rows[tied:]] = loose @ rest
        energy[k] = 0.5 * (y[:tied] @ y[:tied] + (y[tied:] - rest) @ (y[tied:] - rest))
    return _released(closure, length, energy, force, opened, tips)


def _released(
    closure: Closure, length: Array, energy: Array, force: Array, opened: Array, tips: int
) -> Growth:
    """Share every step's energy between the modes: work of the forces before on jumps after.

    Betti's theorem gives the whole step as half of (before . after - after . before); the second
    term is the pressure after on pairs that stood open before.
    """
    work = 0.5 * (force[:-1] * opened[1:] - force[1:] * opened[:-1])
    area = tips * np.diff(length)
    return Growth(
        length=length,
        energy=energy[0] - energy,
        G_I=work[:, closure.normal].sum(axis=1) / area,
        G_II=work[:, ~closure.normal].sum(axis=1) / area,
        force=force,
        opened=opened,
    )


def _pressure(rows: Array, y: Array, gives: Array, guess: NDArray[np.bool_]) -> Array:
    """Forces ``p >= 0`` with ``gap = rows @ (y + rows.T @ p) >= 0`` and ``p . gap = 0``.

    `gives` is ``rows @ rows.T``.  The active set of the length before is mended a few times; where
    that does not settle, the least-squares problem of least energy is solved.
    """
    gap = rows @ y
    slack = 1e-9 * np.abs(gap).max(initial=0.0)
    if gap.min() >= -slack:
        return np.zeros(len(gap))
    active = guess | (gap < -slack)
    for _ in range(20):
        some = np.flatnonzero(active)
        p = np.zeros(len(gap))
        factor = cho_factor(gives[np.ix_(some, some)], lower=True, check_finite=False)
        p[some] = cho_solve(factor, -gap[some], check_finite=False)
        now = gap + gives[:, some] @ p[some]
        changed = (active & (p > 0.0)) | (~active & (now < -slack))
        if np.array_equal(changed, active):
            return p
        active = changed
    from scipy.optimize import nnls  # an eighth of a second to load, and hardly ever asked for

    try:
        out: Array = nnls(rows.T, -y, maxiter=30 * len(gap))[0]
    except RuntimeError as error:
        raise ConvergenceError("crack: the contact of its faces did not settle") from error
    return out
