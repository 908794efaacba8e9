"""Quadrature rules and shape functions.

D. A. Dunavant, High degree efficient symmetrical Gaussian quadrature rules for the triangle,
International Journal for Numerical Methods in Engineering 21 (1985), 1129-1148 (weights from
memory); the check is exact integration of every monomial, int x^a y^b = a! b! / (a + b + 2)!.
"""

from __future__ import annotations

from math import factorial

import numpy as np
import pytest

from limbfe.fem.element import quad9, triangle6
from limbfe.fem.quadrature import square_rule, triangle_rule


@pytest.mark.parametrize("degree", range(1, 7))
def test_triangle_rule_integrates_its_degree(degree):
    points, weights = triangle_rule(degree)
    x, y = points.T
    assert weights.min() > 0.0
    assert (points > 0.0).all()
    for a in range(degree + 1):
        for b in range(degree + 1 - a):
            exact = factorial(a) * factorial(b) / factorial(a + b + 2)
            assert weights @ (x**a * y**b) == pytest.approx(exact, rel=1e-12)


def test_triangle_rule_of_unknown_degree():
    with pytest.raises(ValueError, match="1 to 6"):
        triangle_rule(9)


@pytest.mark.parametrize("n", range(1, 6))
def test_square_rule_integrates_its_degree(n):
    points, weights = square_rule(n)
    x, y = points.T
    for a in range(2 * n):
        for b in range(2 * n):
            exact = (1 - (-1) ** (a + 1)) / (a + 1) * (1 - (-1) ** (b + 1)) / (b + 1)
            assert weights @ (x**a * y**b) == pytest.approx(exact, abs=1e-13)


NODES = {
    triangle6: np.array([[0, 0], [1, 0], [0, 1], [0.5, 0], [0.5, 0.5], [0, 0.5]]),
    quad9: np.array([[-1, -1], [1, -1], [1, 1], [-1, 1], [0, -1], [1, 0], [0, 1], [-1, 0], [0, 0]]),
}


@pytest.mark.parametrize("element", NODES)
def test_shape_functions(element):
    """One at their own node, nought at others; quadratics reproduced; slopes by differences."""
    nodes = NODES[element].astype(float)
    values, _ = element(nodes)
    assert values == pytest.approx(np.eye(len(nodes)), abs=1e-14)
    points = np.array([[0.21, 0.33], [0.05, 0.7]])
    values, slopes = element(points)

    def quadratic(p):
        x, y = p.T
        return 1.0 + 2 * x - y + 0.5 * x * x - 0.7 * x * y + 0.2 * y * y

    assert values @ quadratic(nodes) == pytest.approx(quadratic(points))
    h = 1e-6
    for d, step in enumerate(np.eye(2) * h):
        numeric = (element(points + step)[0] - element(points - step)[0]) / (2 * h)
        assert slopes[..., d] == pytest.approx(numeric, abs=1e-8)
