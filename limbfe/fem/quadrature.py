"""Gauss rules on the reference square and triangle."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from limbfe.frames import Array, read_only


@lru_cache
def square_rule(n: int) -> tuple[Array, Array]:
    """Return the n x n Gauss-Legendre rule on [-1, 1]^2, exact to degree 2 n - 1 each way.

    Returns
    -------
    points : ndarray, shape (n*n, 2)
    weights : ndarray, shape (n*n,)
        Sum to 4.
    """
    nodes, weights = np.polynomial.legendre.leggauss(n)
    xi, eta = np.meshgrid(nodes, nodes, indexing="ij")
    points = np.column_stack([xi.ravel(), eta.ravel()])
    return read_only(points), read_only(np.outer(weights, weights).ravel())


@lru_cache
def triangle_rule(degree: int) -> tuple[Array, Array]:
    """Return a symmetric rule on the triangle (0,0), (1,0), (0,1) exact to `degree` (1 to 6).

    Returns
    -------
    points : ndarray, shape (n_points, 2)
    weights : ndarray, shape (n_points,)
        Sum to 1/2.

    Raises
    ------
    ValueError
        If `degree` is outside 1 to 6.

    References
    ----------
    D. A. Dunavant, High degree efficient symmetrical Gaussian quadrature rules for the
    triangle, Int. J. Numer. Meth. Engng 21 (1985), 1129-1148, Table II (figures from memory;
    a test integrates every monomial of the stated degree exactly).
    """
    if degree not in range(1, 7):
        raise ValueError(f"triangle rules exist for degree 1 to 6, not {degree}")
    orbits = _TRIANGLE_ORBITS[{1: 1, 2: 2, 3: 4, 4: 4, 5: 5, 6: 6}[degree]]
    points: list[tuple[float, float]] = []
    weights: list[float] = []
    for weight, a, b in orbits:
        c = 1.0 - a - b
        orbit = sorted({(a, b), (b, a), (a, c), (c, a), (b, c), (c, b)})
        distinct = _distinct(orbit)
        points.extend(distinct)
        weights.extend([weight / 2.0] * len(distinct))
    return read_only(points), read_only(weights)


def _distinct(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    kept: list[tuple[float, float]] = []
    for p in points:
        if all(abs(p[0] - q[0]) + abs(p[1] - q[1]) > 1e-12 for q in kept):
            kept.append(p)
    return kept


_THIRD = 1.0 / 3.0
# (weight of each point for unit area, first and second barycentric coordinate of the orbit)
_TRIANGLE_ORBITS: dict[int, list[tuple[float, float, float]]] = {
    1: [(1.0, _THIRD, _THIRD)],
    2: [(_THIRD, 1.0 / 6.0, 1.0 / 6.0)],
    4: [
        (0.223381589678011, 0.445948490915965, 0.445948490915965),
        (0.109951743655322, 0.091576213509771, 0.091576213509771),
    ],
    5: [
        (0.225, _THIRD, _THIRD),
        (0.132394152788506, 0.470142064105115, 0.470142064105115),
        (0.125939180544827, 0.101286507323456, 0.101286507323456),
    ],
    6: [
        (0.116786275726379, 0.249286745170910, 0.249286745170910),
        (0.050844906370207, 0.063089014491502, 0.063089014491502),
        (0.082851075618374, 0.310352451033785, 0.053145049844816),
    ],
}
