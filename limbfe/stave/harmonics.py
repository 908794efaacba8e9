"""A stiffness turned by many angles at once.

A fourth-order tensor turned by an angle about a fixed axis is a trigonometric polynomial of
degree four in that angle.  Its coefficients come from a few exact rotations; after that each point
costs one row of a matrix product instead of a rotation of its own.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from limbfe.compiled import as_read, compiled, compiled_inside
from limbfe.frames import Array, rotate_stiffness

_ABOUT_L = (1, 2, 3, 4)
# Orthotropic wood is unchanged by half a turn about R, so only even orders appear.
_ABOUT_R = (2, 4)


def turned_stiffness(
    stiffness: Array, kind: NDArray[np.int16], base: Array, psi: Array, spiral: Array
) -> Array:
    """Return orthotropic stiffnesses in section axes for many directions of the grain.

    Parameters
    ----------
    stiffness : ndarray, shape (w, 6, 6), Pa, wood axes
        Of every wood, orthotropic in L, R, T.
    kind : ndarray of int, shape (n,)
        The wood at each point.
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
    out = np.empty((psi.size, 36))
    if psi.size == 0:
        return out.reshape(0, 6, 6)
    about_r, about_l = _samples(_ABOUT_R), _samples(_ABOUT_L)
    inverse = np.linalg.inv(_rows(about_r, _ABOUT_R))
    if np.ptp(spiral) == 0.0:
        about_r, inverse = spiral[:1], np.ones((1, 1))
    turns = _about_l(about_l)[:, None] @ _about_r(about_r)[None, :]
    samples = rotate_stiffness(stiffness[:, None, None], base @ turns)
    coefficients = np.einsum(
        "lm,rs,wmsij->wrlij", np.linalg.inv(_rows(about_l, _ABOUT_L)), inverse, samples
    )
    _sum_harmonics(
        as_read(coefficients.reshape(len(stiffness), len(about_r), -1, 36)),
        np.ascontiguousarray(kind),
        as_read(psi),
        as_read(spiral),
        out,
    )
    return out.reshape(-1, 6, 6)


@compiled
def _sum_harmonics(
    coefficients: Array, kind: NDArray[np.int16], psi: Array, spiral: Array, out: Array
) -> None:
    """Write every point's sum of harmonics; `coefficients` of shape (w, about R, about L, 36)."""
    about_r, about_l = coefficients.shape[1], coefficients.shape[2]
    by_r, by_l = np.ones(about_r), np.ones(about_l)
    for p in range(len(psi)):
        _write_harmonics(psi[p], by_l)
        if about_r > 1:
            _write_harmonics(2.0 * spiral[p], by_r)
        for entry in range(36):
            out[p, entry] = 0.0
        for i in range(about_r):
            for j in range(about_l):
                share, part = by_r[i] * by_l[j], coefficients[kind[p], i, j]
                for entry in range(36):
                    out[p, entry] += share * part[entry]


@compiled_inside
def _write_harmonics(angle: float, out: Array) -> None:
    """Write cos and sin of 1, 2, ... times the angle after the 1 that `out` holds."""
    c, s = np.cos(angle), np.sin(angle)
    out[1], out[2] = c, s
    for column in range(3, len(out), 2):
        out[column] = c * out[column - 2] - s * out[column - 1]
        out[column + 1] = s * out[column - 2] + c * out[column - 1]


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
