"""A string that slides sideways over the belly it lies on: its length and what follows from it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar
from scipy.spatial.transform import Rotation

from limbfe.beam import brace, draw, string_of
from limbfe.beam.equilibrium.state import path_of
from limbfe.beam.limbs.motion import move
from limbfe.beam.model import Model, Path
from limbfe.beam.shot.lying import end_length
from limbfe.beam.strung.measures import line_below
from limbfe.frames import Array

from .recurved import lever, recurve, sideways_recurve

KEPT = 10


def way(
    model: Model, path: Path, side: int, seconds: bool = True
) -> tuple[float, Array, Array, Array]:
    """Length of one part of the string, its derivatives, and where it leaves the limb."""
    q = 6 * model.kept + 3
    gradient, hessian = np.empty(q), np.empty((q, q) if seconds else (0, 0))
    leaves, along, point = np.empty(3), np.empty(2), path.border[:3].copy()
    shape = (path.rotations, path.positions, point)
    assert end_length(model, side, *shape, gradient, hessian, leaves, along) > 2
    return along[0], gradient, hessian, leaves


def moved(model: Model, path: Path, side: int, step: Array) -> Path:
    out, n = path.copy(), len(path.positions)
    for depth in range(model.kept):
        node = depth if side == 0 else n - 1 - depth
        move(out.rotations[node], out.positions[node], step[6 * depth : 6 * depth + 6].copy())
    out.border[:3] += step[-3:]
    return out


@pytest.fixture(scope="module")
def bent() -> tuple[Model, Path]:
    """A braced recurve whose limbs were bent and turned sideways, its string pulled aside."""
    bow = recurve(8, off=0.006)
    path = path_of(bow, brace(bow, height=0.15))[0]
    rng, n = np.random.default_rng(3), len(path.positions)
    for node in range(n):
        if not bow.model.lower <= node <= bow.model.upper:
            size = np.array([0.1, 3.0, 0.1, 20.0, 1.0, 20.0]) * 1e-3
            move(path.rotations[node], path.positions[node], rng.normal(size=6) * size)
    path.border[1] += 0.02
    return bow.model._replace(kept=KEPT), path


@pytest.mark.parametrize("side", [0, 1])
def test_derivatives_of_its_length(bent: tuple[Model, Path], side: int):
    """Central differences of fourth order along ``exp(t delta)``, steps of 1e-4."""
    model, path = bent
    _, gradient, hessian, _ = way(model, path, side)
    assert hessian == pytest.approx(hessian.T, abs=1e-12)
    rng, h = np.random.default_rng(8), 1e-4

    def length(step: Array) -> float:
        return way(model, moved(model, path, side, step), side, False)[0]

    for _ in range(12):
        step = rng.normal(size=len(gradient))
        step *= h / np.linalg.norm(step)
        low, mid, high = (length(k * step) for k in (-1.0, 0.0, 1.0))
        lower, higher = length(-2.0 * step), length(2.0 * step)
        first = (lower - 8.0 * low + 8.0 * high - higher) / 12.0
        second = (-lower + 16.0 * low - 30.0 * mid + 16.0 * high - higher) / 12.0
        assert first == pytest.approx(gradient @ step, abs=1e-9 * h)
        assert second == pytest.approx(
            step @ hessian @ step, abs=1e-6 * np.abs(hessian).max() * h**2
        )


def test_turned_and_moved_with_its_limb_it_stays_as_long(bent: tuple[Model, Path]):
    """So its pulls on limb and nocking point are in balance, in force and moment."""
    model, path = bent
    turn, shift = Rotation.from_rotvec([0.3, -0.2, 0.5]).as_matrix(), np.array([0.1, 0.2, -0.3])
    other = path.copy()
    other.rotations[:], other.positions[:] = turn @ path.rotations, path.positions @ turn.T + shift
    other.border[:3] = turn @ path.border[:3] + shift
    for side in range(2):
        size, _, _, leaves = way(model, path, side)
        again, _, _, turned = way(model, other, side)
        assert again == pytest.approx(size, rel=1e-13)
        assert turned == pytest.approx(turn @ leaves + shift, abs=1e-12)


def test_on_an_arc_it_is_a_helix_that_goes_on_straight():
    """The shortest way over a cylinder, found by SciPy from how far aside it leaves."""
    radius, turn, straight, grip = 0.25, 0.8, 0.65, 0.05
    bow = lever(radius=radius, turn=turn)
    path = path_of(bow, brace(bow, height=0.15))[0]
    path.border[1] += 0.12
    model = bow.model._replace(kept=6)
    size, _, _, leaves = way(model, path, 1)
    # the lever's own turn about its hinge, and the nocking point in its axes
    end = np.array([-radius * (1.0 - np.cos(turn)), straight + radius * np.sin(turn)])
    tip = path.positions[-1][[0, 2]] - np.array([0.0, grip])
    theta = np.arctan2(*tip) - np.arctan2(*end)
    x, y, z = path.border[:3]
    c, s = np.cos(theta), np.sin(theta)
    point = np.array([c * x - s * (z - grip), y, s * x + c * (z - grip)])

    def leaf(at: Array) -> Array:
        arc = np.array([-radius * (1.0 - np.cos(at[0])), straight + radius * np.sin(at[0])])
        return np.array([arc[0], at[1], arc[1]])

    def clear(angle: float) -> float:
        """How far the nocking point lies outside the cylinder's tangent plane."""
        away = point - leaf(np.array([angle, 0.0]))
        return float(away[0] * np.cos(angle) + away[2] * np.sin(angle))

    angle = brentq(clear, 0.05, turn)

    def length(aside: float) -> float:
        free = np.linalg.norm(point - leaf(np.array([angle, aside])))
        return float(np.hypot(radius * (turn - angle), aside) + free)

    found = minimize_scalar(length, bounds=(-0.1, 0.2), method="bounded", options={"xatol": 1e-10})
    # the lever of 1e10 N gives way by 1e-8
    assert size == pytest.approx(found.fun, rel=3e-8)
    x, y, z = leaf(np.array([angle, found.x]))
    back = [c * x + s * z, y, c * z - s * x + grip]
    assert leaves == pytest.approx(back, abs=1e-6)
    assert found.x > 5e-3


def test_what_its_pull_does_is_what_the_limbs_give_back():
    """Energy of a draw from a string that lies on limbs it pulls sideways to one that is free."""
    bow = sideways_recurve()
    braced = brace(bow, height=0.15)
    assert braced.string_lies.min() > 0.05

    def pull(draw_length: float) -> float:
        return draw(bow, braced, [draw_length]).states[0].draw_force

    first, lifted, last = draw(bow, braced, [0.2, 0.4, 0.55]).states
    assert first.string_lies.min() > 0.01 > 0.0 == last.string_lies.max()
    assert np.ptp(lifted.positions[:, 1]) > 5e-3
    # clamped, the travel is the draw length
    ends = [first.travel, last.travel]
    work = quad(pull, first.draw_length, last.draw_length, epsrel=1e-9, limit=200)[0]
    assert np.diff(ends) == pytest.approx(last.draw_length - first.draw_length, abs=1e-12)
    energy = [s.strain_energy + s.string_energy for s in (first, last)]
    assert work == pytest.approx(energy[1] - energy[0], rel=1e-7)


def test_it_lies_beside_the_middle_line_and_leaves_without_a_kink():
    bow = sideways_recurve()
    (state,) = draw(bow, brace(bow, height=0.15), [0.2]).states
    line, middle = string_of(bow, state), line_below(bow, state, 1)
    leaf, nocking = state.free_string[2], state.nocking_point
    where = int(np.linalg.norm(line - leaf, axis=1).argmin())
    assert line[where] == pytest.approx(leaf, abs=1e-12)
    before, after = line[where + 1] - leaf, leaf - nocking
    side = state.rotations[-1][:, 1]
    lean = [v @ side / np.linalg.norm(v) for v in (before, after)]
    # a chord of the line is shorter than its arc by a square
    assert lean[0] == pytest.approx(lean[1], rel=1e-4)
    assert abs(lean[0]) > 1e-3
    assert middle[0] == pytest.approx(state.string_points[2], abs=1e-12)
    assert np.linalg.norm(middle[-1] - leaf) > 1e-4
