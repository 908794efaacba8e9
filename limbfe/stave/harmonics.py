"""A stiffness turned by many angles at once.

A fourth-order tensor turned by an angle about a fixed axis is a trigonometric polynomial of
degree four in that angle.  Its coefficients come from a few exact rotations; after that each point
costs one row of a matrix product instead of a rotation of its own.
"""

from __future__ import annotations

import numpy as np

from limbfe.frames import Array, rotate_stiffness

_ABOUT_L = (1, 2, 3, 4)
# Orthotropic wood is unchanged by half a turn about R, so only even orders appear.
_ABOUT_R = (2, 4)


def turned_stiffness(stiffness: Array, base: Array, psi: Array, spiral: Array) -> Array:
    """Return an orthotropic stiffness in section axes for many directions of the grain.

    Parameters
    ----------
    stiffness : ndarray, shape (6, 6), Pa, wood axes
        Orthotropic in L, R, T.
    base : ndarray, shape (3, 3)
        Wood axes (columns L, R, T) in section axes before the turns.
    psi : ndarray, shape (n,), rad
        Turn of R and T about L, from R towards T.
    spiral : ndarray, shape (n,), rad
        Turn of L and T about R, from L towards T, applied before `psi`.

    Returns
    -------
    ndarray, shape (n, 6, 6), Pa, section axes
    """
    if psi.size == 0:
        return np.empty((0, 6, 6))
    about_r, about_l = _samples(_ABOUT_R), _samples(_ABOUT_L)
    if np.ptp(spiral) == 0.0:
        about_r = spiral[:1]
    turns = _about_l(about_l)[:, None] @ _about_r(about_r)[None, :]
    samples = rotate_stiffness(stiffness, base @ turns)
    basis = _rows(psi, _ABOUT_L)
    coefficients = np.tensordot(np.linalg.inv(_rows(about_l, _ABOUT_L)), samples, axes=1)
    if about_r.size > 1:
        inverse = np.linalg.inv(_rows(about_r, _ABOUT_R))
        coefficients = np.einsum("rs,lsij->lrij", inverse, coefficients)
        rows_r = _rows(spiral, _ABOUT_R)
        basis = (basis[:, :, None] * rows_r[:, None, :]).reshape(psi.size, -1)
    result: Array = (basis @ coefficients.reshape(-1, 36)).reshape(psi.size, 6, 6)
    return result


def _samples(orders: tuple[int, ...]) -> Array:
    """Return equally spaced angles over one period of these orders, one per coefficient."""
    n = 2 * len(orders) + 1
    result: Array = 2.0 * np.pi / orders[0] * np.arange(n) / n
    return result


def _rows(angle: Array, orders: tuple[int, ...]) -> Array:
    """Return 1, cos k a, sin k a, ... for each angle, shape (n, 2 len(orders) + 1)."""
    out = np.empty((angle.size, 2 * len(orders) + 1))
    out[:, 0] = 1.0
    for column, k in enumerate(orders):
        out[:, 2 * column + 1] = np.cos(k * angle)
        out[:, 2 * column + 2] = np.sin(k * angle)
    return out


def _about_l(angle: Array) -> Array:
    out = np.zeros((angle.size, 3, 3))
    c, s = np.cos(angle), np.sin(angle)
    out[:, 0, 0] = 1.0
    out[:, 1, 1], out[:, 1, 2] = c, -s
    out[:, 2, 1], out[:, 2, 2] = s, c
    return out


def _about_r(angle: Array) -> Array:
    out = np.zeros((angle.size, 3, 3))
    c, s = np.cos(angle), np.sin(angle)
    out[:, 1, 1] = 1.0
    out[:, 0, 0], out[:, 0, 2] = c, -s
    out[:, 2, 0], out[:, 2, 2] = s, c
    return out
