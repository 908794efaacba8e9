"""Interpolation between stations and the shape at rest."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from limbfe.errors import GeometryError
from limbfe.stave import axis_at, shape_at
from limbfe.stave.reshape import with_more_stations
from limbfe.stave.stave import with_columns

GLOBAL_OF_A_STRAIGHT_LIMB = np.array([[0, 0, -1], [0, 1, 0], [1, 0, 0]])


def test_stations_are_met(make_stave):
    stave = make_stave()
    shapes = shape_at(stave, stave.x)
    for name in ("width", "thickness", "sapwood", "lean", "backing"):
        np.testing.assert_allclose(getattr(shapes, name), getattr(stave, name), atol=1e-17)


@settings(deadline=None)
@given(
    steps=st.lists(st.floats(0.02, 0.4), min_size=6, max_size=12),
    drops=st.lists(st.floats(0.0, 4e-3), min_size=12, max_size=12),
)
def test_a_width_that_only_falls_gives_a_width_that_only_falls(make_plain, steps, drops):
    """Fritsch, Carlson, SIAM J. Numer. Anal. 17 (1980) 238: monotone data, monotone curve."""
    x = np.concatenate([[-0.1], np.cumsum(steps) - 0.1 + 1e-3])
    width = 0.06 - np.concatenate([[0.0], np.cumsum(drops)[: len(steps)]])
    stave = make_plain(x=x, width=width, thickness=np.full(x.size, 0.02), stiff_length=0.0)
    fine = shape_at(stave, np.linspace(x[0], x[-1], 997)).width
    assert np.all(np.diff(fine) <= 1e-15)


@settings(deadline=None)
@given(values=st.lists(st.floats(5e-3, 5e-2), min_size=13, max_size=13))
def test_no_column_leaves_the_range_of_its_two_neighbours(make_plain, values):
    stave = make_plain(thickness=np.array(values))
    for k in range(12):
        part = shape_at(stave, np.linspace(stave.x[k], stave.x[k + 1], 25)).thickness
        low, high = sorted(values[k : k + 2])
        assert part.min() >= low - 1e-12
        assert part.max() <= high + 1e-12


def test_a_limb_of_two_stations_is_a_straight_taper(make_plain):
    """Limbs of unequal length and taper meet in a corner in the middle of the grip."""
    x = np.array([-0.7, 0.0, 0.9])
    stave = make_plain(
        x=x, width=np.array([0.02, 0.04, 0.01]), thickness=np.array([0.012, 0.033, 0.015])
    )
    at = np.linspace(-0.7, 0.9, 65)
    wide, thick = np.interp(at, x, stave.width), np.interp(at, x, stave.thickness)
    finer = with_more_stations(stave, [-0.31, 0.2, 0.77])
    for some in (stave, finer):
        np.testing.assert_allclose(shape_at(some, at).width, wide, atol=1e-16)
        np.testing.assert_allclose(shape_at(some, at).thickness, thick, atol=1e-16)
    # The middle recedes from a straight back by half the thickness, on both limbs alike.
    positions, _ = axis_at(stave, at)
    np.testing.assert_allclose(positions[:, 0], 0.5 * (thick - 0.033), atol=1e-15)
    lean = np.arctan(0.5 * np.array([0.03, -0.02]))
    tangent = [[np.sin(angle), 0.0, np.cos(angle)] for angle in lean]
    np.testing.assert_allclose(axis_at(stave, [-0.3, 0.3])[1][:, :, 0], tangent, atol=1e-14)
    middle = np.mean(tangent, axis=0)
    grip = axis_at(stave, [0.0])[1][0, :, 0]
    np.testing.assert_allclose(grip, middle / np.linalg.norm(middle), atol=1e-14)


def test_what_runs_through_the_grip_has_no_corner_there(make_plain):
    """A stave twisted like a propeller, and swept sideways, is so in the grip too."""
    x = np.array([-0.8, 0.0, 0.8])
    stave = make_plain(x=x, width=np.full(3, 0.03), thickness=np.full(3, 0.02), stiff_length=0.0)
    stave = with_columns(stave, reflex=np.array([0.04, 0.0, 0.04]))
    at = np.array([-1e-4, 1e-4])
    tangents = axis_at(stave, at)[1][:, :, 0]
    np.testing.assert_allclose(tangents[0], tangents[1], atol=1e-4)
    np.testing.assert_allclose(axis_at(stave, [0.0])[1][0, :, 0], [0.0, 0.0, 1.0], atol=1e-12)


def test_shapes_keep_the_stations_shape(make_stave):
    stave = make_stave()
    x = np.linspace(-0.8, 0.8, 12)
    np.testing.assert_array_equal(
        shape_at(stave, x.reshape(3, 4)).width.ravel(), shape_at(stave, x).width
    )


def test_beyond_the_tips_is_refused(make_stave):
    stave = make_stave()
    with pytest.raises(GeometryError, match=r"station 850 mm .*: outside the stave"):
        shape_at(stave, [0.1, 0.85])
    with pytest.raises(GeometryError, match="outside"):
        axis_at(stave, [-0.9])
    # A rounding error at the tip is not "beyond".
    assert shape_at(stave, 0.84 + 1e-13).width == pytest.approx(0.012)


def test_a_straight_limb_lies_on_the_upright(make_plain):
    stave = make_plain(thickness=np.full(13, 0.02))
    x = np.linspace(-0.86, 0.84, 31)
    positions, rotations = axis_at(stave, x)
    np.testing.assert_allclose(positions, np.outer(x, [0, 0, 1]), atol=1e-15)
    np.testing.assert_allclose(rotations, np.broadcast_to(GLOBAL_OF_A_STRAIGHT_LIMB, (31, 3, 3)))


def test_a_wedge_s_axis_leans_by_half_its_taper(make_plain):
    """Back straight: the middle recedes from it by half the thickness, tan = -t'/2 exactly."""
    x = np.linspace(-0.5, 0.9, 15)
    stave = make_plain(x=x, width=np.full(15, 0.03), thickness=0.034 - 0.02 * (x + 0.5))
    at = np.linspace(-0.45, 0.85, 27)
    positions, rotations = axis_at(stave, at)
    t = 0.034 - 0.02 * (at + 0.5)
    t_grip = 0.034 - 0.02 * 0.5
    np.testing.assert_allclose(positions[:, 0], (t - t_grip) / 2, atol=1e-15)
    np.testing.assert_allclose(positions[:, 2], at, atol=1e-14)
    tangent = np.array([-0.01, 0, 1]) / np.hypot(0.01, 1)
    np.testing.assert_allclose(rotations[:, :, 0], np.broadcast_to(tangent, (27, 3)), atol=1e-13)


def test_a_circular_back_gives_a_concentric_axis(make_plain):
    """Closed form: back of radius R curved away from the archer, axis of radius R + t/2."""
    R, t = 1.3, 0.02
    x = np.linspace(-0.8, 0.8, 401)
    stave = make_plain(
        x=x,
        width=np.full(401, 0.03),
        thickness=np.full(401, t),
        reflex=R * (1 - np.cos(x / R)),
    )
    at = np.array([-0.7713, -0.4, 0.0, 0.123, 0.66])
    positions, rotations = axis_at(stave, at)
    angle = at / R
    centre = np.array([-(R + t / 2), 0.0, 0.0])
    expected = centre + (R + t / 2) * np.stack([np.cos(angle), 0 * angle, np.sin(angle)], axis=1)
    np.testing.assert_allclose(positions, expected, atol=1e-7)
    np.testing.assert_allclose(
        rotations[:, :, 0],
        np.stack([-np.sin(angle), 0 * angle, np.cos(angle)], axis=1),
        atol=1e-5,
    )


def test_frames_are_orthonormal_right_handed_and_follow_the_axis(make_stave):
    stave = make_stave()
    x = np.linspace(-0.85, 0.83, 41) + 1e-4
    _, rotations = axis_at(stave, x)
    gram = np.swapaxes(rotations, 1, 2) @ rotations
    np.testing.assert_allclose(gram, np.broadcast_to(np.eye(3), (41, 3, 3)), atol=1e-14)
    np.testing.assert_allclose(np.linalg.det(rotations), 1.0)
    h = 1e-6
    slope = (axis_at(stave, x + h)[0] - axis_at(stave, x - h)[0]) / (2 * h)
    slope /= np.linalg.norm(slope, axis=1, keepdims=True)
    np.testing.assert_allclose(rotations[:, :, 0], slope, atol=1e-8)
    # Untwisted, z has no part along global Y, to which y is nearest; a twist brings z towards it.
    twist = np.interp(x, stave.x, stave.twist)
    assert np.ptp(twist) > np.deg2rad(11)
    turned = np.arctan2(rotations[:, 1, 2], rotations[:, 1, 1])
    np.testing.assert_allclose(turned, twist, atol=np.deg2rad(0.5))
    plain = axis_at(replace(stave, twist=np.zeros(13)), x)[1]
    np.testing.assert_allclose(plain[:, 1, 2], 0.0, atol=1e-15)
    np.testing.assert_allclose(rotations[:, :, 0], plain[:, :, 0], atol=1e-15)
    assert np.all(plain[:, 1, 1] > 0.99)


def test_the_axis_is_the_back_moved_inward_by_half_the_thickness(make_stave):
    """The back is built independently, step by step, from its columns and unit speed.

    From a point of the axis at x the nearest point of the back is the one whose arc length is x,
    half a thickness away.
    """
    stave = make_stave()
    x = np.linspace(stave.x[0], stave.x[-1], 170001)
    reflex = PchipInterpolator(stave.x, stave.reflex)(x)
    sideways = PchipInterpolator(stave.x, stave.sideways)(x)
    rise = np.sqrt(np.diff(x) ** 2 - np.diff(reflex) ** 2 - np.diff(sideways) ** 2)
    z = np.concatenate([[0.0], np.cumsum(rise)])
    z -= np.interp(0.0, x, z)
    half = 0.5 * shape_at(stave, [0.0]).thickness
    back = np.stack([-reflex - half, sideways, z], axis=1)
    at = np.array([-0.81, -0.4444, 0.02, 0.2, 0.47, 0.79])
    positions, _ = axis_at(stave, at)
    for k in range(at.size):
        distance = np.linalg.norm(back - positions[k], axis=1)
        assert distance.min() == pytest.approx(0.5 * shape_at(stave, at).thickness[k], rel=1e-6)
        # The foot is found to the grid's step over the flatness of the minimum.
        assert x[np.argmin(distance)] == pytest.approx(at[k], abs=5e-5)


def test_swapping_the_limbs_mirrors_the_bow(make_stave):
    """Reading the columns from the other end turns the picture upside down, exactly."""
    stave = make_stave()
    names = ("width", "thickness", "sapwood", "lean", "backing", "reflex", "sideways")
    turned = make_stave(x=-stave.x[::-1], **{n: getattr(stave, n)[::-1] for n in names})
    at = np.union1d(np.linspace(-0.83, 0.83, 20), stave.x[1:-1])
    p, r = axis_at(stave, at)
    q, s = axis_at(turned, -at)
    np.testing.assert_allclose(q, p * [1, 1, -1], atol=1e-14)
    np.testing.assert_allclose(s[:, :, 0], -r[:, :, 0] * [1, 1, -1], atol=1e-12)


def test_a_column_steeper_than_arc_length_is_refused(make_stave):
    reflex = np.zeros(13)
    reflex[-1] = 0.25
    with pytest.raises(GeometryError, match="more than the distance along the back"):
        axis_at(make_stave(reflex=reflex), [0.8])
