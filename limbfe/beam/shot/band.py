"""Banded linear equations in compiled code."""

from __future__ import annotations

import math

from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array


@compiled
def factor_band(band: Array) -> bool:
    """Split a band matrix into triangles, by elimination without exchanges, in place.

    The equations of a step are those of the masses, which are definite, over the square of the
    step, with the stiffness added; whoever calls looks at the residual anyway.

    Parameters
    ----------
    band : ndarray, shape (n, 2 b + 1)
        Row i holds columns i - b to i + b; overwritten by the triangles, the lower one's diagonal
        of ones left out.

    Returns
    -------
    bool
        False if a pivot is zero or not a number.
    """
    n, beside = len(band), band.shape[1] // 2
    for j in range(n):
        pivot = band[j, beside]
        if not abs(pivot) > 0.0 or not math.isfinite(pivot):
            return False
        last = min(j + beside, n - 1)
        # a string on the limbs makes the band wide at the tips; elsewhere most of it is zeros
        reach = last - j
        while reach > 0 and band[j, beside + reach] == 0.0:
            reach -= 1
        for i in range(j + 1, last + 1):
            shift = j - i
            f = band[i, beside + shift] / pivot
            band[i, beside + shift] = f
            if f != 0.0:
                _take_off(f, band[j], beside + 1, band[i], beside + shift + 1, reach)
    return True


@compiled_inside
def _take_off(f: float, row: Array, start: int, out: Array, at: int, count: int) -> None:
    """Subtract ``f`` times a stretch of a row from another one's.

    By fours, all read before any is written: as a plain loop, which might write what it reads next,
    it takes twice as long.
    """
    k = 0
    while k + 4 <= count:
        a, b = start + k, at + k
        r0, r1, r2, r3 = row[a], row[a + 1], row[a + 2], row[a + 3]
        x0, x1, x2, x3 = out[b], out[b + 1], out[b + 2], out[b + 3]
        out[b], out[b + 1] = x0 - f * r0, x1 - f * r1
        out[b + 2], out[b + 3] = x2 - f * r2, x3 - f * r3
        k += 4
    while k < count:
        out[at + k] -= f * row[start + k]
        k += 1


@compiled
def solve_band(factors: Array, rhs: Array, columns: int) -> None:
    """Solve with what `factor_band` left, in place.

    Parameters
    ----------
    factors : ndarray, shape (n, 2 b + 1)
    rhs : ndarray, shape (n, at least `columns`)
        Overwritten by the solution.
    """
    n, beside = len(factors), factors.shape[1] // 2
    for i in range(n):
        for j in range(max(i - beside, 0), i):
            f = factors[i, beside + j - i]
            if f != 0.0:
                for c in range(columns):
                    rhs[i, c] -= f * rhs[j, c]
    for j in range(n - 1, -1, -1):
        last = min(beside, n - 1 - j)
        for c in range(columns):
            value = rhs[j, c]
            for k in range(1, last + 1):
                value -= factors[j, beside + k] * rhs[j + k, c]
            rhs[j, c] = value / factors[j, beside]


@compiled
def multiply(a: Array, b: Array, out: Array) -> None:
    """Write ``a b`` of 6x6 matrices; sums are written out, which is four times as fast."""
    for i in range(6):
        a0, a1, a2, a3, a4, a5 = a[i, 0], a[i, 1], a[i, 2], a[i, 3], a[i, 4], a[i, 5]
        for j in range(6):
            out[i, j] = (
                a0 * b[0, j] + a1 * b[1, j] + a2 * b[2, j]
                + a3 * b[3, j] + a4 * b[4, j] + a5 * b[5, j]
            )  # fmt: skip


@compiled_inside
def add_product(a: Array, b: Array, f: float, c: Array, d: Array, g: float, out: Array) -> None:
    """Write ``f a b + g c^T d`` of 6x6 matrices."""
    for i in range(6):
        a0, a1, a2, a3, a4, a5 = a[i, 0], a[i, 1], a[i, 2], a[i, 3], a[i, 4], a[i, 5]
        c0, c1, c2, c3, c4, c5 = c[0, i], c[1, i], c[2, i], c[3, i], c[4, i], c[5, i]
        for j in range(6):
            out[i, j] = f * (
                a0 * b[0, j] + a1 * b[1, j] + a2 * b[2, j]
                + a3 * b[3, j] + a4 * b[4, j] + a5 * b[5, j]
            ) + g * (
                c0 * d[0, j] + c1 * d[1, j] + c2 * d[2, j]
                + c3 * d[3, j] + c4 * d[4, j] + c5 * d[5, j]
            )  # fmt: skip
