"""Directions of the grain."""

import numpy as np
import pytest

from limbfe.stave import grain_axes, shape_at
from limbfe.stave.grain import grain_direction

L, R, T = 0, 1, 2


def points(n=400, seed=5):
    rng = np.random.default_rng(seed)
    return rng.uniform(-0.8, 0.8, n), rng.uniform(-0.014, 0.014, n), rng.uniform(-9e-3, 9e-3, n)


def test_straight_grain(make_plain):
    axes = grain_axes(make_plain(), *points())
    np.testing.assert_allclose(axes[:, :, L], np.broadcast_to([1, 0, 0], (400, 3)))
    np.testing.assert_allclose(axes[:, :, R], np.broadcast_to([0, 0, 1], (400, 3)))
    np.testing.assert_allclose(axes[:, :, T], np.broadcast_to([0, 1, 0], (400, 3)))


def test_axes_are_orthonormal_whatever_turns_them(make_stave):
    axes = grain_axes(make_stave(), *points())
    gram = np.swapaxes(axes, 1, 2) @ axes
    np.testing.assert_allclose(gram, np.broadcast_to(np.eye(3), (400, 3, 3)), atol=1e-14)
    np.testing.assert_allclose(np.linalg.det(axes), -1.0)


def test_run_out_1_in_25_and_sideways_grain_are_slopes_in_their_planes(make_plain):
    """A fibre that rises 1 in 25 comes out at the back: slope in the x-z plane, Wood Handbook."""
    stave = make_plain(run_out=np.arctan(1 / 25), sideways_grain=np.arctan(-0.03))
    fibre = grain_axes(stave, 0.2, 0.0, 0.0)[:, L]
    assert fibre[2] / fibre[0] == pytest.approx(1 / 25)
    assert fibre[1] / fibre[0] == pytest.approx(-0.03)


@pytest.mark.parametrize("lean", [0.0, 0.06])
def test_rings_are_circles_round_the_pith(make_plain, lean):
    stave = make_plain(ring_radius=0.05, lean=np.full(13, lean))
    x, y, z = points()
    top = 0.5 * shape_at(stave, x).thickness
    away = np.stack([0 * x, y + 0.05 * np.sin(lean), z - top + 0.05 * np.cos(lean)], axis=1)
    away /= np.linalg.norm(away, axis=1, keepdims=True)
    axes = grain_axes(stave, x, y, z)
    np.testing.assert_allclose(axes[:, :, R], away, atol=1e-14)
    np.testing.assert_allclose(axes[:, :, L], np.broadcast_to([1, 0, 0], (400, 3)), atol=1e-15)


def test_rings_lean_with_the_sapwood(make_plain):
    """R is square to the boundary that `lean` tilts: z falls by tan(lean) per unit y."""
    lean = np.deg2rad(4.0)
    stave = make_plain(lean=np.full(13, lean))
    axes = grain_axes(stave, *points())
    boundary = np.array([0.0, 1.0, -np.tan(lean)])
    np.testing.assert_allclose(axes[:, :, R] @ boundary, 0.0, atol=1e-15)


def test_pith_itself_has_axes(make_plain):
    stave = make_plain(ring_radius=0.01, thickness=np.full(13, 0.02))
    axes = grain_axes(stave, 0.1, 0.0, 0.0)
    np.testing.assert_allclose(axes[:, R], [0, 0, 1])


def test_spiral_fibres_are_helices_of_one_pitch(make_plain):
    """dL/d(angle) the same at every distance: tan(spiral) grows as the distance from the pith."""
    spiral = np.arctan(1 / 12)
    stave = make_plain(ring_radius=0.06, spiral=spiral, thickness=np.full(13, 0.02))
    x, y, z = points()
    axes = grain_axes(stave, x, y, z)
    out = np.stack([y, z - 0.01 + 0.06], axis=1)
    distance = np.linalg.norm(out, axis=1)
    round_pith = np.stack([out[:, 1], -out[:, 0]], axis=1) / distance[:, None]
    turn = np.sum(axes[:, 1:, L] * round_pith, axis=1) / axes[:, 0, L]
    np.testing.assert_allclose(turn / distance, np.tan(spiral) / 0.06)
    # At the middle of the back it is the angle that was measured, towards the archer's right.
    back = grain_axes(stave, 0.2, 0.0, 0.01)[:, L]
    assert back[1] / back[0] == pytest.approx(1 / 12)


def test_without_rings_a_spiral_is_sideways_grain(make_plain):
    spiral = grain_axes(make_plain(spiral=0.08), *points())
    sideways = grain_axes(make_plain(sideways_grain=0.08), *points())
    np.testing.assert_allclose(spiral, sideways, atol=1e-15)


def test_a_far_pith_is_no_pith(make_stave):
    x, y, z = points()
    far, none = make_stave(ring_radius=1e7), make_stave(ring_radius=np.inf)
    np.testing.assert_allclose(
        grain_axes(far, x, y, z), grain_axes(none, x, y, z), rtol=0, atol=1e-8
    )


def test_direction_of_the_grain_is_the_first_axis(make_stave):
    straight = make_stave(spiral=0.0)
    for stave in (make_stave(), straight):
        axes, direction = grain_axes(stave, *points()), grain_direction(stave, *points())
        np.testing.assert_allclose(
            np.broadcast_to(direction, (400, 3)), axes[:, :, L], rtol=0.0, atol=1e-15
        )
    assert grain_direction(straight, *points()).shape == (3,)
