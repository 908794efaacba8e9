"""The search over the grid against trying every line, and smooth lines against closed forms."""

import itertools

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import CubicSpline
from scipy.optimize import minimize

from limbfe.frames import Array
from limbfe.log.layout.grid import Choices, bend_cost, cheapest_line
from limbfe.log.line import Line, bending


def random_choices(seed, nodes=6, m=4, closed=0.2, tolerance=0.01):
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.uniform(0.05, 0.12, nodes))
    offsets = np.sort(rng.uniform(-0.03, 0.03, (nodes, m)), axis=1)
    pieces = rng.uniform(0.0, 1.0, (nodes - 1, m, m))
    pieces[rng.uniform(size=pieces.shape) < closed] = np.inf
    grip = int(rng.integers(1, nodes - 1))
    return Choices(
        x=x, offsets=offsets, pieces=pieces, stiffness=0.05, grip=grip, tolerance=tolerance
    )


@pytest.mark.parametrize("seed", range(12))
def test_the_search_finds_what_trying_every_line_finds(seed):
    choices = random_choices(seed)
    n, m = choices.offsets.shape
    lines = [np.array(line) for line in itertools.product(range(m), repeat=n)]
    allowed = [line for line in lines if straight_enough(choices, line)]
    costs = [line_cost(choices, line) for line in allowed]
    found = cheapest_line(choices)
    best = min(costs, default=np.inf)
    if not np.isfinite(best):
        assert found is None
        return
    assert found is not None
    assert found[0] == pytest.approx(best, rel=1e-12)
    assert line_cost(choices, found[1]) == pytest.approx(best, rel=1e-12)
    assert straight_enough(choices, found[1])


def test_no_line_where_every_way_is_closed():
    assert cheapest_line(random_choices(1, closed=1.0)) is None


def make_line(x, offset, grip=0.9):
    return Line(grip=grip, upper_end="top", lower=0.9, upper=0.9, x=x, offset=offset)


def test_a_line_through_points_is_the_natural_cubic_spline():
    """C. de Boor, A Practical Guide to Splines (1978), chapter V (from memory): of all curves
    through the points the natural spline has the least integral of y''^2.  SciPy's spline and
    quadrature stand beside."""
    x = np.array([0.0, 0.3, 0.55, 1.0, 1.3, 1.8])
    y = np.array([0.0, 4.0, -3.0, 2.0, 6.0, -1.0]) * 1e-3
    line = make_line(x, y)
    t = np.linspace(0.0, 1.8, 501)
    spline = CubicSpline(x, y, bc_type="natural")
    assert np.allclose(line.offset_at(t), spline(t), atol=1e-15)
    total = sum(quad(lambda s: spline(s, 2) ** 2, a, b)[0] for a, b in itertools.pairwise(x))
    assert bending(x, y) == pytest.approx(total, rel=1e-9)
    for shape in ("not-a-knot", "clamped"):
        other = CubicSpline(x, y, bc_type=shape)
        assert bending(x, y) < sum(
            quad(lambda s, c=other: c(s, 2) ** 2, a, b)[0] for a, b in itertools.pairwise(x)
        )


def test_past_a_peg_the_line_lies_as_a_thin_batten_does():
    """A batten held at both ends and pressed aside by d at a of its length l bends as a beam on two
    supports under one load (S. Timoshenko, Strength of Materials, from memory): with b = l - a,
    y = d x (l^2 - b^2 - x^2) / (2 a^2 b) left of the peg and energy 3 d^2 l / (a^2 b^2)."""
    length, a, d = 1.8, 0.7, 0.012
    b = length - a
    x, y = np.array([0.0, a, length]), np.array([0.0, d, 0.0])
    t = np.linspace(0.0, a, 71)
    closed = d * t * (length**2 - b**2 - t**2) / (2.0 * a**2 * b)
    assert np.allclose(make_line(x, y).offset_at(t), closed, atol=1e-12)
    assert bending(x, y) == pytest.approx(3.0 * d**2 * length / (a**2 * b**2), rel=1e-12)


def test_a_taut_elastic_line_past_an_obstacle_touches_it_at_one_point():
    """The line of least bending that clears a narrow obstacle touches its corner alone: the peg's
    batten above.  Found here by minimising over free nodes."""
    x = np.linspace(0.0, 1.8, 13)
    at, d = 6, 0.010
    free = [k for k in range(1, 12) if k != at]

    def whole(values):
        y = np.zeros(13)
        y[free], y[at] = values * 1e-3, d
        return y

    best = minimize(lambda v: bending(x, whole(v)) * 1e6, np.full(10, 5.0), method="BFGS")
    peg = make_line(np.array([0.0, 0.9, 1.8]), np.array([0.0, d, 0.0]))
    assert np.allclose(whole(best.x), peg.offset_at(x), atol=2e-6)


def test_stations_of_stave_and_bow_are_each_others_inverse():
    x = np.linspace(0.1, 1.9, 9)
    line = make_line(x, 0.02 * np.sin(4.0 * x), grip=1.0)
    s = np.linspace(-0.8, 0.85, 23)
    assert np.allclose(line.along(line.station(s)), s, atol=2e-7)
    t = np.linspace(1.0, 1.6, 20001)
    length = np.sum(np.hypot(np.diff(t), np.diff(line.offset_at(t))))
    assert line.along(1.6) == pytest.approx(length, abs=1e-6)


def line_cost(choices: Choices, chosen: Array) -> float:
    """Return what one line costs; `chosen` holds the index of its offset at every node."""
    n = len(choices.x)
    y = choices.offsets[np.arange(n), chosen]
    total = float(np.sum(choices.pieces[np.arange(n - 1), chosen[:-1], chosen[1:]]))
    for i in range(1, n - 1):
        at = (float(choices.x[i - 1]), float(choices.x[i]), float(choices.x[i + 1]))
        total += float(bend_cost(at, y[i - 1], y[i], y[i + 1], choices.stiffness))
    return total


def straight_enough(choices: Choices, chosen: Array) -> bool:
    """Return whether the grip of a line lies near enough to the chord of its nocks."""
    x, g = choices.x, choices.grip
    ends = choices.offsets[0, chosen[0]], choices.offsets[-1, chosen[-1]]
    share = (x[g] - x[0]) / (x[-1] - x[0])
    chord = ends[0] + share * (ends[1] - ends[0])
    return bool(abs(choices.offsets[g, chosen[g]] - chord) <= choices.tolerance)
