"""Planes through a knot's cone: conic sections by hand and by looking at many points."""

import numpy as np
import pytest

from limbfe.stave import Knot, inside_knot, knot_ellipse_at_depth

ENTRY = np.array([0.31, -0.005, 0.011])
PLANES = {"flat": ((0, 1), 2), "side": ((0, 2), 1)}
DIRECTIONS = [
    (0, 0, -1),
    (0, 0.5, -1),
    (-0.7, 0, -1),
    (0.3, -0.4, -1),
    (0.9, 0.6, -0.8),
    (0, -0.25, 1),
    (0.2, 1, -0.3),
]


def cone(direction, *, radius=0.004, far_radius=0.0025, length=0.02, entry=ENTRY):
    d = np.array(direction, dtype=float)
    return Knot(
        name="A", limb="upper", x=entry[0], face="back", entry=entry, state="live",
        direction=d / np.linalg.norm(d), length=length, radius=radius, far_radius=far_radius,
    )  # fmt: skip


def inside_cut(cut, u, v):
    """Return the squared elliptic radius of points of the plane: below 1 inside."""
    c, s = np.cos(cut.angle), np.sin(cut.angle)
    du, dv = u - cut.x, v - cut.across
    return ((c * du + s * dv) / cut.a) ** 2 + ((c * dv - s * du) / cut.b) ** 2


def points_of(plane, depth, u, v):
    (first, second), out = PLANES[plane]
    point = [None] * 3
    point[first], point[second], point[out] = u, v, np.full_like(u, depth)
    return point


@pytest.mark.parametrize("plane", PLANES)
@pytest.mark.parametrize("direction", DIRECTIONS)
@pytest.mark.parametrize("far_radius", [0.0025, 0.004, 0.0061])
def test_every_point_of_a_plane_lies_in_the_cone_where_it_lies_in_the_ellipse(
    plane, direction, far_radius
):
    """20,000 random points, of which none may be on the wrong side."""
    knot, (_, out) = cone(direction, far_radius=far_radius), PLANES[plane]
    rng = np.random.default_rng(5)
    for depth in knot.entry[out] + np.array([0.0, -0.004, 0.009]):
        cut = knot_ellipse_at_depth(knot, float(depth), plane)
        if cut is None:
            continue
        if not cut.closed:
            assert abs(knot.direction[out]) < 0.3
            continue
        u = cut.x + rng.uniform(-1.5, 1.5, 20_000) * max(cut.a, cut.b)
        v = cut.across + rng.uniform(-1.5, 1.5, 20_000) * max(cut.a, cut.b)
        rho = inside_cut(cut, u, v)
        inside = inside_knot(knot, *points_of(plane, depth, u, v))
        sure = np.abs(rho - 1.0) > 1e-9
        np.testing.assert_array_equal(inside[sure], rho[sure] < 1.0)
        assert 0.05 < inside.mean() < 0.9


@pytest.mark.parametrize("tilt", [0.0, 0.2, 0.7, 1.1])
@pytest.mark.parametrize("slope", [0.0, -0.07, 0.2])
def test_a_slanting_plane_against_the_cone_of_the_geometry_book(tilt, slope):
    """Eccentricity sin(tilt) / cos(half angle), vertices where the two outermost lines end.

    A cone of half angle alpha cut by a plane at `tilt` to the planes square to its axis: any book
    of geometry (from memory); the vertices by the intersection of lines.
    """
    knot = cone((np.sin(tilt), 0, -np.cos(tilt)), far_radius=0.004 + 0.02 * slope)
    cut = knot_ellipse_at_depth(knot, 0.006)
    eccentricity = np.sqrt(1.0 - (cut.b / cut.a) ** 2)
    assert eccentricity == pytest.approx(np.sin(tilt) * np.hypot(1.0, slope), abs=1e-7)
    d, square = knot.direction[[0, 2]], np.array([np.cos(tilt), np.sin(tilt)])
    ends = []
    for side in (1.0, -1.0):
        start = ENTRY[[0, 2]] + side * knot.radius * square
        along = d + side * slope * square
        ends.append(start[0] + (0.006 - start[1]) / along[1] * along[0])
    assert sorted(ends) == pytest.approx([cut.x - cut.a, cut.x + cut.a])
    assert (cut.angle, cut.across, cut.closed) == (0.0, -0.005, True)


def test_nothing_is_cut_where_the_cone_has_closed():
    knot = cone((0, 0.2, -1), far_radius=0.0, length=0.01)
    cuts = [knot_ellipse_at_depth(knot, 0.011 - z) for z in np.linspace(0.0, 0.0095, 5)]
    assert np.all(np.diff([cut.b for cut in cuts]) < 0)
    assert knot_ellipse_at_depth(knot, 0.0005) is None
    assert knot_ellipse_at_depth(knot, 0.011 + 0.03) is not None


@pytest.mark.parametrize("off", [0.0, 0.0012, 0.0025])
@pytest.mark.parametrize("far_radius", [0.0, 0.001])
def test_a_branch_along_the_plane_leaves_a_half_ellipse_from_its_wide_end(off, far_radius):
    """From the right side straight in: as wide as the knot at the face, as deep as it reaches."""
    entry = np.array([0.31, 0.016, 0.002])
    knot = cone((0, -1, 0), radius=0.003, far_radius=far_radius, entry=entry)
    cut = knot_ellipse_at_depth(knot, 0.002 + off)
    assert not cut.closed
    wide = np.sqrt(0.003**2 - off**2)
    deep = 0.02 * (0.003 - off) / (0.003 - far_radius)
    if deep > 0.02:
        # It goes through: as wide as the face at both ends.
        assert cut.across == pytest.approx(0.006)
        assert inside_cut(cut, 0.31 + wide, 0.016) == pytest.approx(1.0)
        assert inside_cut(cut, 0.31 + wide, -0.004) == pytest.approx(1.0)
    else:
        assert (cut.x, cut.across) == pytest.approx((0.31, 0.016))
        assert (cut.a, cut.b) == pytest.approx((wide, deep))
    rng = np.random.default_rng(3)
    x, y = 0.31 + rng.uniform(-0.003, 0.003, 5000), rng.uniform(-0.004, 0.016, 5000)
    inside = inside_knot(knot, x, y, 0.002 + off)
    assert inside.any()
    assert np.all(inside_cut(cut, x[inside], y[inside]) < 1.0)
    assert knot_ellipse_at_depth(knot, 0.0051) is None


def test_the_cut_changes_little_where_the_plane_comes_to_run_along_the_branch():
    """A knot through the limb, 8 mm wide, from 20 degrees to none against the plane."""
    angles = np.deg2rad(np.linspace(20.0, 0.0, 401))
    widths = []
    for angle in angles:
        knot = cone((0, -np.cos(angle), -np.sin(angle)), far_radius=0.004, entry=np.zeros(3))
        cut = knot_ellipse_at_depth(knot, -0.01 * np.sin(angle))
        # Half the width at the middle of the knot, across the branch.
        widths.append(cut.a)
    assert widths[0] == pytest.approx(0.004)
    assert np.max(np.abs(np.array(widths) / widths[0] - 1.0)) < 0.16
