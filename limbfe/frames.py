"""Axes, component orders and rotations: the one file that owns them.

Global axes (bow held upright, string towards the archer): X towards the archer, Z up,
Y = Z x X, the archer's right.  Section axes: x up the bow, y to the archer's right, z from
belly to back.  Wood axes: L along the grain, R from pith to bark, T along the ring.

Resultants ``[N, Vy, Vz, T, My, Mz]`` work on strains
``[gamma_x, gamma_y, gamma_z, kappa_x, kappa_y, kappa_z]``; the axial strain at a point of a
section is ``gamma_x + z * kappa_y - y * kappa_z``.  Stresses and strains are in Voigt order
``[11, 22, 33, 23, 13, 12]`` with engineering shear strains.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

RESULTANTS = ("N", "Vy", "Vz", "T", "My", "Mz")
STRAINS = ("gamma_x", "gamma_y", "gamma_z", "kappa_x", "kappa_y", "kappa_z")
VOIGT_PAIRS = ((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))
"""Voigt order 11, 22, 33, 23, 13, 12, as axes."""

SECTION_IN_GLOBAL = np.array([[0.0, 0.0, -1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])
"""Columns are the section axes x, y, z of a straight upright limb in global axes."""
SECTION_IN_GLOBAL.setflags(write=False)


def read_only(values: Any, shape: tuple[int, ...] | None = None) -> Array:
    """Return `values` as a C-contiguous float64 array that cannot be written.

    Raises
    ------
    ValueError
        If `shape` is given and does not match.
    """
    array = np.array(values, dtype=np.float64, order="C")
    if shape is not None and array.shape != shape:
        raise ValueError(f"expected shape {shape}, got {array.shape}")
    array.setflags(write=False)
    return array


def skew(vector: Any) -> Array:
    """Return the matrix of the cross product: ``skew(a) @ b == cross(a, b)``.

    Parameters
    ----------
    vector : array_like, shape (..., 3)

    Returns
    -------
    ndarray, shape (..., 3, 3)
    """
    a = np.asarray(vector, dtype=np.float64)
    out = np.zeros((*a.shape, 3))
    out[..., 0, 1], out[..., 0, 2] = -a[..., 2], a[..., 1]
    out[..., 1, 0], out[..., 1, 2] = a[..., 2], -a[..., 0]
    out[..., 2, 0], out[..., 2, 1] = -a[..., 1], a[..., 0]
    return out


def stress_rotation(axes: Any) -> Array:
    """Return the matrix that takes Voigt stress from local axes to outer axes.

    Parameters
    ----------
    axes : array_like, shape (..., 3, 3)
        Columns are the local axes written in outer axes.

    Returns
    -------
    ndarray, shape (..., 6, 6)
        ``M`` with ``stress_outer = M @ stress_local``; a stiffness goes
        ``C_outer = M @ C_local @ M.T`` and an outer engineering strain goes
        ``strain_local = M.T @ strain_outer`` (Bond transformation).

    References
    ----------
    B. A. Auld, Acoustic Fields and Waves in Solids, vol. 1 (1973), ch. 3.D: the Bond stress
    matrix (from memory); here built from sigma = R sigma' R^T directly.
    """
    r = np.asarray(axes, dtype=np.float64)
    out = np.empty((*r.shape[:-2], 6, 6))
    for row, (i, j) in enumerate(VOIGT_PAIRS):
        for column, (p, q) in enumerate(VOIGT_PAIRS):
            value = r[..., i, p] * r[..., j, q]
            if p != q:
                value = value + r[..., i, q] * r[..., j, p]
            out[..., row, column] = value
    return out


def rotate_stiffness(stiffness: Any, axes: Any) -> Array:
    """Return a Voigt stiffness given in local axes in the outer axes.

    Parameters
    ----------
    stiffness : array_like, shape (..., 6, 6), Pa, local axes
    axes : array_like, shape (..., 3, 3)
        Columns are the local axes written in outer axes.

    Returns
    -------
    ndarray, shape (..., 6, 6), Pa, outer axes
    """
    m = stress_rotation(axes)
    rotated: Array = m @ np.asarray(stiffness, dtype=np.float64) @ np.swapaxes(m, -1, -2)
    return rotated
