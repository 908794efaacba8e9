"""Small dense and block-tridiagonal linear algebra in compiled code."""

from __future__ import annotations

import math

import numpy as np

from limbfe.compiled import compiled_inside
from limbfe.frames import Array


@compiled_inside
def invert(matrix: Array, inverse: Array, work: Array) -> None:
    """Write the inverse of a symmetric positive definite matrix (Cholesky, no check)."""
    n = len(matrix)
    for j in range(n):
        for i in range(j, n):
            value = matrix[i, j]
            for k in range(j):
                value -= work[i, k] * work[j, k]
            work[i, j] = math.sqrt(value) if i == j else value / work[j, j]
    for c in range(n):
        for i in range(c, n):
            value = 1.0 if i == c else 0.0
            for k in range(c, i):
                value -= work[i, k] * inverse[k, c]
            inverse[i, c] = value / work[i, i]
        for i in range(n - 1, c - 1, -1):
            value = inverse[i, c]
            for k in range(i + 1, n):
                value -= work[k, i] * inverse[k, c]
            inverse[i, c] = value / work[i, i]
    for c in range(n):
        for i in range(c):
            inverse[i, c] = inverse[c, i]


@compiled_inside
def eliminate(diag: Array, off: Array, rhs: Array, start: int, stop: int) -> int:
    """Eliminate the nodes from `start` up to but without `stop` from a symmetric chain.

    Works in either direction.  On return ``diag[stop]`` and ``rhs[stop]`` hold the Schur
    complement there; the eliminated ``diag[k]`` hold L and D of an L D L^T factorisation,
    ``off`` the blocks ``L^-1 O`` towards the next node, ``rhs`` the reduced right-hand sides.

    Parameters
    ----------
    diag : ndarray, shape (n, 6, 6)
        Symmetric; overwritten.
    off : ndarray, shape (n - 1, 6, 6)
        Rows belong to node e, columns to node e + 1; overwritten.
    rhs : ndarray, shape (n, 6)
        Overwritten.

    Returns
    -------
    int
        Number of negative pivots, -1 if a pivot is zero or not a number.
    """
    step = 1 if stop > start else -1
    negative = 0
    z = np.empty((6, 6))
    for node in range(start, stop, step):
        a, b, y = diag[node], rhs[node], rhs[node + step]
        o = off[node if step > 0 else node - 1]
        for i in range(6):
            for j in range(6):
                z[i, j] = o[i, j] if step > 0 else o[j, i]
        for j in range(6):
            for k in range(j):
                f = a[j, k] * a[k, k]
                a[j, j] -= f * a[j, k]
                for i in range(j + 1, 6):
                    a[i, j] -= a[i, k] * f
            pivot = a[j, j]
            if not (abs(pivot) > 0.0) or not math.isfinite(pivot):
                return -1
            if pivot < 0.0:
                negative += 1
            for i in range(j + 1, 6):
                a[i, j] /= pivot
            for i in range(j + 1, 6):
                b[i] -= a[i, j] * b[j]
                for c in range(6):
                    z[i, c] -= a[i, j] * z[j, c]
        d = diag[node + step]
        for k in range(6):
            for i in range(6):
                f = z[k, i] / a[k, k]
                y[i] -= f * b[k]
                for j in range(6):
                    d[i, j] -= f * z[k, j]
        for i in range(6):
            for j in range(6):
                o[i, j] = z[i, j]
    return negative


@compiled_inside
def substitute(diag: Array, off: Array, rhs: Array, start: int, stop: int) -> None:
    """Solve back after `eliminate`: ``rhs[stop]`` holds the solution there, fill the others."""
    step = 1 if stop > start else -1
    for node in range(stop - step, start - step, -step):
        a, x, y = diag[node], rhs[node], rhs[node + step]
        z = off[node if step > 0 else node - 1]
        for i in range(6):
            value = x[i]
            for j in range(6):
                value -= z[i, j] * y[j]
            x[i] = value / a[i, i]
        for i in range(5, -1, -1):
            for k in range(i + 1, 6):
                x[i] -= a[k, i] * x[k]


@compiled_inside
def solve_dense(a: Array, b: Array) -> bool:
    """Solve ``a x = b`` (b of shape (n, k), overwritten) by elimination with row pivoting."""
    n, columns = b.shape
    for j in range(n):
        p = j
        for i in range(j + 1, n):
            if abs(a[i, j]) > abs(a[p, j]):
                p = i
        pivot = a[p, j]
        if not (abs(pivot) > 0.0) or not math.isfinite(pivot):
            return False
        if p != j:
            for k in range(n):
                a[j, k], a[p, k] = a[p, k], a[j, k]
            for k in range(columns):
                b[j, k], b[p, k] = b[p, k], b[j, k]
        for i in range(j + 1, n):
            f = a[i, j] / pivot
            if f != 0.0:
                for k in range(j + 1, n):
                    a[i, k] -= f * a[j, k]
                for k in range(columns):
                    b[i, k] -= f * b[j, k]
    for j in range(n - 1, -1, -1):
        for k in range(columns):
            value = b[j, k]
            for i in range(j + 1, n):
                value -= a[j, i] * b[i, k]
            b[j, k] = value / a[j, j]
    return True
