"""Our piecewise cubics against SciPy's, which define them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline, PchipInterpolator

from limbfe.curves import monotone_cubic, natural_spline, spline, trapezoid


def points(n, seed):
    """Uneven breaks and three columns, some of whose neighbours are level."""
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.uniform(0.1, 2.0, n)) - 3.0
    y = rng.normal(size=(n, 3))
    y[rng.random((n, 3)) < 0.3] = 0.7
    at = rng.uniform(x[0], x[-1], (4, 7))
    at[0, :3] = x[0], x[n // 2], x[-1]
    return x, y, at


@pytest.mark.parametrize(
    ("ours", "scipys"),
    [
        (monotone_cubic, PchipInterpolator),
        (spline, CubicSpline),
        (natural_spline, lambda x, y: CubicSpline(x, y, bc_type="natural")),
    ],
    ids=["monotone", "spline", "natural"],
)
@given(n=st.integers(2, 30), seed=st.integers(0, 10**6))
@settings(deadline=None, max_examples=60)
def test_scipy_draws_the_same_curve(ours, scipys, n, seed):
    x, y, at = points(n, seed)
    here, there = ours(x, y), scipys(x, y)
    for order in (0, 1, 2, 3):
        expected = there(at, order)
        assert here(at, order) == pytest.approx(expected, abs=1e-11 * (1 + np.abs(expected).max()))
    work = there.antiderivative()
    expected = work(at) - work(x[0])
    assert here.antiderivative()(at) == pytest.approx(expected, rel=1e-11, abs=1e-11)


@pytest.mark.parametrize("curve", [monotone_cubic, spline])
def test_one_column_goes_on_past_the_ends(curve):
    x = np.array([0.0, 1.0, 3.0, 4.0])
    found = curve(x, x**2 + x)
    scipys = {monotone_cubic: PchipInterpolator, spline: CubicSpline}[curve](x, x**2 + x)
    at = np.array([-0.5, 4.5])
    assert found(at) == pytest.approx(scipys(at), rel=1e-12)
    assert found(2.0).shape == ()


def test_rises_too_small_for_a_reciprocal_have_no_slope():
    x = np.array([0.0, 1.0, 2.0, 3.0])
    curve = monotone_cubic(x, np.array([0.0, 5e-324, 1e-323, 1.0]))
    assert np.isfinite(curve(np.linspace(0.0, 3.0, 13))).all()


def test_the_trapezoidal_rule_is_that_of_a_broken_line():
    # y = 3 - 2 x is exact on any points; the area under (0, 0), (1, 2), (3, 0) is 3
    x = np.array([0.0, 0.3, 1.1, 2.0])
    assert trapezoid(np.stack([3.0 - 2.0 * x, x]), x) == pytest.approx([2.0, 2.0])
    assert trapezoid(np.array([0.0, 2.0, 0.0]), np.array([0.0, 1.0, 3.0])) == pytest.approx(3.0)
