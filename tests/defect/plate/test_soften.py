"""The mixing of secants: on a linear problem it ends after as many tries as there are unknowns.

D. G. Anderson, Iterative procedures for nonlinear integral equations, Journal of the ACM 12 (1965);
that mixing with the whole past is then GMRES: H. F. Walker and P. Ni, Anderson acceleration for
fixed-point iterations, SIAM J. Numer. Anal. 49 (2011), theorem 2.2 (both from memory).
"""

import numpy as np
import pytest

from limbfe.defect.plate.soften import _mixed


def iterate(A, there, start, passes):
    """Try as the plate does, with the gap A (there - tried), and return the last try.

    The points weigh unlike.
    """
    tried, gaps = [], []
    weight = np.linspace(0.5, 1.5, start.size).reshape(start.shape)
    left = start
    for _ in range(passes):
        tried, gaps = [*tried, left], [*gaps, A @ (there - left).ravel()]
        gaps[-1] = gaps[-1].reshape(left.shape)
        left = _mixed(tried, gaps, weight)
    return left


@pytest.mark.parametrize("shape", [(1, 1), (2, 1), (1, 3), (2, 2)])
def test_as_many_tries_as_unknowns_and_one_more_find_a_linear_answer(shape):
    rng = np.random.default_rng([7, *shape])
    size = shape[0] * shape[1]
    A = rng.uniform(-0.4, 0.4, (size, size)) + np.diag(rng.uniform(1.0, 2.5, size))
    there, start = rng.uniform(0.3, 1.0, shape), np.ones(shape)
    found = iterate(A, there, start, size + 1)
    assert found == pytest.approx(there, abs=1e-9)
    assert np.abs(iterate(A, there, start, size) - there).max() > 1e-4


def test_the_first_try_takes_the_whole_gap():
    left, gap = np.array([[1.0, 0.8]]), np.array([[-0.3, 0.1]])
    assert _mixed([left], [gap], np.ones((1, 2))) == pytest.approx(np.array([[0.7, 0.9]]))


def test_unknowns_that_answer_alike_need_one_mixing():
    """A gap in proportion to what is missing, of a thousand unknowns: the secant of the line."""
    rng = np.random.default_rng(3)
    there = rng.uniform(0.3, 1.0, (40, 25))
    for slope in (0.2, 0.9, 1.7):
        found = iterate(slope * np.eye(1000), there, np.ones((40, 25)), 2)
        assert found == pytest.approx(there, abs=1e-9)


def test_points_that_weigh_nothing_have_no_say():
    """Their gaps jump about, as those of wood hardly strained; the others find their answer."""
    rng = np.random.default_rng(4)
    A, there = np.diag([0.5, 1.3]), np.array([[0.4, 0.7]])
    tried, gaps, left = [], [], np.ones((1, 4))
    for _ in range(3):
        gap = A @ (there - left[:, :2]).ravel()
        tried = [*tried, left]
        gaps = [*gaps, np.concatenate([gap, rng.uniform(-0.1, 0.1, 2)])[None]]
        left = _mixed(tried, gaps, np.array([[1.0, 1.0, 0.0, 0.0]]))
    assert left[:, :2] == pytest.approx(there, abs=1e-9)
