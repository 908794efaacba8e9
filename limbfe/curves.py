"""Piecewise cubic curves through points, of many columns at once.

SciPy's own stand in `scipy.interpolate`, which loads its optimisation, special functions and
spatial search as well: a quarter of a second before every command.  The tests hold these to
SciPy's.

References
----------
F. N. Fritsch, R. E. Carlson, Monotone Piecewise Cubic Interpolation, SIAM J. Numer. Anal. 17 (1980)
238-246; slopes after F. N. Fritsch, J. Butland, A Method for Constructing Local Monotone Piecewise
Cubic Interpolants, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304 (both from memory; as in SciPy).
C. de Boor, A Practical Guide to Splines (1978), chapter IV: the "not-a-knot" ends (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import perm
from typing import Any

import numpy as np

from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """Cubics between growing breaks; beyond the ends the first and last go on.

    Attributes
    ----------
    breaks : ndarray, shape (n,)
    coefficients : ndarray, shape (k, n - 1, ...)
        Of falling powers of the distance from the break on the left.
    """

    breaks: Array
    coefficients: Array

    def __call__(self, x: Any, order: int = 0) -> Array:
        """Return values, or derivatives of an order, at `x`, shape (*x.shape, ...)."""
        x = np.asarray(x, dtype=np.float64)
        piece = np.asarray(self.breaks[1:-1].searchsorted(x, side="right"))
        columns = self.coefficients.ndim - 2
        step = (x - self.breaks[piece]).reshape(x.shape + (1,) * columns)
        powers = len(self.coefficients) - 1
        if order > powers:
            return np.zeros(x.shape + self.coefficients.shape[2:])
        scaled = self.coefficients
        if order:
            falling = [perm(power, order) for power in range(powers, order - 1, -1)]
            scaled = np.stack([k * one for k, one in zip(falling, scaled, strict=False)])
        value: Array = scaled[0].take(piece, axis=0)
        for one in scaled[1:]:
            value *= step
            value += one.take(piece, axis=0)
        return np.asarray(value)

    def antiderivative(self) -> Curve:
        """Return the integral from the first break on."""
        powers = np.arange(len(self.coefficients), 0, -1)
        trailing = (1,) * (self.coefficients.ndim - 2)
        raised = self.coefficients / powers.reshape(-1, 1, *trailing)
        width = np.diff(self.breaks).reshape(-1, *trailing)
        pieces = np.zeros_like(raised[0])
        for coefficient in raised:
            pieces = (pieces + coefficient) * width
        start = np.cumsum(pieces, axis=0) - pieces
        return Curve(breaks=self.breaks, coefficients=np.concatenate([raised, start[None]]))


def monotone_cubic(x: Array, y: Array) -> Curve:
    """Return the curve through points that never leaves the range of the two beside it.

    Parameters
    ----------
    x : ndarray, shape (n,), growing, n >= 2
    y : ndarray, shape (n, ...)

    Notes
    -----
    The slope is zero where neighbouring rises differ in sign, and so it is where they are so small
    that their reciprocals overflow.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    h = np.diff(x).reshape(-1, *(1,) * (y.ndim - 1))
    rise = np.diff(y, axis=0) / h
    if len(x) == 2:
        return _hermite(x, y, h, rise, np.concatenate([rise, rise]))
    before, after = rise[:-1], rise[1:]
    w1, w2 = 2.0 * h[1:] + h[:-1], h[1:] + 2.0 * h[:-1]
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        mean = (w1 + w2) / (w1 / before + w2 / after)
    inner = np.where(np.sign(before) * np.sign(after) > 0.0, mean, 0.0)
    first = _end_slope(h[0], h[1], rise[0], rise[1])
    last = _end_slope(h[-1], h[-2], rise[-1], rise[-2])
    return _hermite(x, y, h, rise, np.concatenate([first[None], inner, last[None]]))


def _end_slope(h0: Array, h1: Array, rise0: Array, rise1: Array) -> Array:
    """Return the one-sided three-point slope, kept from overshooting."""
    slope = ((2.0 * h0 + h1) * rise0 - h0 * rise1) / (h0 + h1)
    slope = np.where(np.sign(slope) == np.sign(rise0), slope, 0.0)
    turns = (np.sign(rise0) != np.sign(rise1)) & (np.abs(slope) > 3.0 * np.abs(rise0))
    return np.where(turns, 3.0 * rise0, slope)


def joined(first: Curve, second: Curve) -> Curve:
    """Return one curve of two, the second beginning where the first ends; it may turn there."""
    return Curve(
        breaks=np.concatenate([first.breaks, second.breaks[1:]]),
        coefficients=np.concatenate([first.coefficients, second.coefficients], axis=1),
    )


def spline(x: Array, y: Array) -> Curve:
    """Return the cubic spline with "not-a-knot" ends, twice continuously differentiable.

    Parameters
    ----------
    x : ndarray, shape (n,), growing, n >= 2
    y : ndarray, shape (n, ...)
        Three points are joined by a parabola, two by a line.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    h = np.diff(x)
    wide = h.reshape(-1, *(1,) * (y.ndim - 1))
    rise = np.diff(y, axis=0) / wide
    if len(x) == 2:
        return _hermite(x, y, wide, rise, np.concatenate([rise, rise]))
    if len(x) == 3:
        bend = (rise[1] - rise[0]) / (x[2] - x[0])
        slope = np.stack([rise[0] - bend * h[0], rise[0] + bend * h[0], rise[1] + bend * h[1]])
        return _hermite(x, y, wide, rise, slope)
    matrix = np.diag(np.pad(2.0 * (h[:-1] + h[1:]), 1))
    inner = np.arange(1, len(x) - 1)
    matrix[inner, inner + 1], matrix[inner, inner - 1] = h[:-1], h[1:]
    right = np.zeros_like(y)
    right[1:-1] = 3.0 * (wide[1:] * rise[:-1] + wide[:-1] * rise[1:])
    first, last = x[2] - x[0], x[-1] - x[-3]
    matrix[0, :2], matrix[-1, -2:] = (h[1], first), (last, h[-2])
    right[0] = ((h[0] + 2.0 * first) * h[1] * rise[0] + h[0] ** 2 * rise[1]) / first
    right[-1] = (h[-1] ** 2 * rise[-2] + (2.0 * last + h[-1]) * h[-2] * rise[-1]) / last
    slope = np.empty_like(y)
    slope[:] = np.linalg.solve(matrix, right.reshape(len(x), -1)).reshape(y.shape)
    return _hermite(x, y, wide, rise, slope)


def natural_spline(x: Array, y: Array) -> Curve:
    """Return the cubic spline with straight ends: of all curves through points the least bent.

    Parameters
    ----------
    x : ndarray, shape (n,), growing, n >= 2
    y : ndarray, shape (n, ...)
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    h = np.diff(x)
    wide = h.reshape(-1, *(1,) * (y.ndim - 1))
    rise = np.diff(y, axis=0) / wide
    matrix = np.diag(2.0 * np.concatenate([h[:1], h[:-1] + h[1:], h[-1:]]))
    inner = np.arange(1, len(x) - 1)
    matrix[inner, inner + 1], matrix[inner, inner - 1] = h[:-1], h[1:]
    matrix[0, 1], matrix[-1, -2] = h[0], h[-1]
    right = np.empty_like(y)
    right[0], right[-1] = 3.0 * h[0] * rise[0], 3.0 * h[-1] * rise[-1]
    right[1:-1] = 3.0 * (wide[1:] * rise[:-1] + wide[:-1] * rise[1:])
    slope = np.empty_like(y)
    slope[:] = np.linalg.solve(matrix, right.reshape(len(x), -1)).reshape(y.shape)
    return _hermite(x, y, wide, rise, slope)


def trapezoid(y: Array, x: Array) -> Any:
    """Return the integral of `y` over `x`, both along the last axis, as straight between points."""
    return np.sum(0.5 * (y[..., 1:] + y[..., :-1]) * np.diff(x), axis=-1)


def _hermite(x: Array, y: Array, h: Array, rise: Array, slope: Array) -> Curve:
    bend = (slope[:-1] + slope[1:] - 2.0 * rise) / h
    return Curve(
        breaks=x,
        coefficients=np.stack(
            [bend / h, (rise - slope[:-1]) / h - bend, slope[:-1], y[:-1].copy()]
        ),
    )
