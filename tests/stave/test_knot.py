"""Knots: cones against brute force."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from limbfe.errors import GeometryError, MaterialError
from limbfe.stave import (
    Filler,
    Knot,
    back_z,
    belly_z,
    grain_at,
    inside_knot,
    knot_ellipse_at_depth,
    shape_at,
)
from limbfe.stave.knot import knot_span, knots_meet, radius_at
from limbfe.stave.marks import signed_station

from ..marked import marked_knot

MARK = {"name": "A", "limb": "upper", "at": 0.31, "face": "back", "across": -0.005}
MARK |= {"diameter": 0.009, "state": "live"}


def cone(direction, *, radius=0.004, far_radius=0.0025, length=0.02, entry=(0.31, -0.005, 0.011)):
    d = np.array(direction, dtype=float)
    return Knot(
        name="A",
        limb="upper",
        x=entry[0],
        face="back",
        entry=np.array(entry),
        direction=d / np.linalg.norm(d),
        length=length,
        radius=radius,
        far_radius=far_radius,
        state="live",
    )


def test_without_rings_a_knot_runs_straight_in(make_plain):
    knot = marked_knot(make_plain(), **MARK)
    thickness = float(shape_at(make_plain(), [0.31]).thickness[0])
    np.testing.assert_allclose(knot.direction, [0, 0, -1])
    np.testing.assert_allclose(knot.entry, [0.31, -0.005, thickness / 2])
    assert knot.length == pytest.approx(thickness)
    assert knot.radius == knot.far_radius == pytest.approx(0.0045)


@pytest.mark.parametrize("face", ["back", "belly"])
def test_with_rings_it_is_a_cone_from_the_pith(make_stave, face):
    stave = make_stave()
    knot = marked_knot(stave, **MARK | {"face": face})
    shapes = shape_at(stave, [0.31])
    lean, top = float(shapes.lean[0]), float(shapes.thickness[0]) / 2
    pith = np.array([0.31, -0.11 * np.sin(lean), top - 0.11 * np.cos(lean)])
    away = knot.entry - pith
    span = np.linalg.norm(away)
    np.testing.assert_allclose(np.abs(away @ knot.direction), span)
    far = knot.entry + knot.length * knot.direction
    # Radius in proportion to the distance from the pith at both ends.
    assert knot.far_radius / knot.radius == pytest.approx(np.linalg.norm(far - pith) / span)
    surface = belly_z if face == "back" else back_z
    assert far[2] == pytest.approx(float(surface(shapes, far[1:2])[0]), abs=1e-9)
    assert (knot.far_radius < knot.radius) == (face == "back")


@pytest.mark.parametrize("across", [-0.005, 0.0, 0.011])
def test_the_mark_on_a_flat_back_has_the_measured_width(make_plain, across):
    stave = make_plain(ring_radius=0.06)
    knot = marked_knot(stave, **MARK | {"across": across})
    cut = knot_ellipse_at_depth(knot, knot.entry[2])
    assert 2 * cut.b == pytest.approx(0.009, rel=0.01)
    assert cut.across == pytest.approx(across, abs=5e-4)


@pytest.mark.parametrize("limb", ["upper", "lower"])
@pytest.mark.parametrize("face", ["back", "belly", "right"])
def test_a_leaning_branch_grows_towards_the_tip_from_the_pith_s_curve(make_stave, face, limb):
    """The pith comes nearer to the back along the limb; the axis meets it where it is there."""
    radius = 0.1 + 0.05 * np.linspace(-1.0, 1.0, 13)
    stave = make_stave(ring_radius=radius)
    knot = marked_knot(stave, **MARK | {"face": face, "limb": limb, "lean": 0.5})
    side = 1.0 if limb == "upper" else -1.0
    outwards = -1.0 if face in ("back", "right") else 1.0
    assert knot.direction[0] == pytest.approx(outwards * side * np.sin(0.5))
    straight = marked_knot(stave, **MARK | {"face": face, "limb": limb})
    assert knot.length == pytest.approx(straight.length / np.cos(0.5), rel=0.02)
    if face == "right":
        return
    top = 0.5 * float(shape_at(stave, [knot.x]).thickness[0])
    s = outwards * np.linspace(0.0, -0.3, 3001)
    axis = knot.entry + s[:, None] * knot.direction
    on = (axis[:, 0] > stave.x[0]) & (axis[:, 0] < stave.x[-1])
    x, lean = axis[on, 0], shape_at(stave, axis[on, 0]).lean
    r = grain_at(stave, x).ring_radius
    pith = np.stack([-r * np.sin(lean), top - r * np.cos(lean)], axis=1)
    apart = np.linalg.norm(axis[on, 1:] - pith, axis=1)
    assert apart.min() < 1e-4
    assert abs(x[apart.argmin()] - knot.x) > 0.03
    tip = knot.radius + (knot.far_radius - knot.radius) / knot.length * s[on][apart.argmin()]
    assert tip == pytest.approx(0.0, abs=1e-5)


def test_a_drilled_hole_is_no_branch(make_stave):
    """It runs straight in and is as wide all the way through, wherever the pith lies."""
    drilled = marked_knot(make_stave(ring_radius=0.06), **MARK | {"state": "drilled"})
    np.testing.assert_allclose(drilled.direction, [0.0, 0.0, -1.0], atol=0.1)
    assert drilled.far_radius == drilled.radius
    assert drilled.hollow
    filled = replace(drilled, filler=Filler(E=2e9, tension=4e7, shear=2e7))
    assert not filled.hollow


@pytest.mark.parametrize("lean", [0.0, 0.6, -0.9])
def test_a_lean_lengthens_the_mark_along_the_limb_alone(make_plain, lean):
    knot = marked_knot(make_plain(), **MARK | {"lean": lean})
    cut = knot_ellipse_at_depth(knot, float(knot.entry[2]))
    assert (cut.a, cut.b) == pytest.approx((0.0045 / np.cos(lean), 0.0045))
    assert (cut.x, cut.across) == pytest.approx((0.31, -0.005))


def test_a_pith_inside_the_limb_ends_the_knot(make_plain):
    stave = make_plain(ring_radius=0.012)
    knot = marked_knot(stave, **MARK | {"across": 0.0})
    assert knot.length == pytest.approx(0.012)
    assert knot.far_radius == pytest.approx(0.0, abs=1e-15)
    z = float(knot.entry[2]) - np.array([0.006, 0.011, 0.013, 0.018])
    np.testing.assert_array_equal(inside_knot(knot, 0.31, 0.0, z), [True, True, False, False])


def test_a_knot_seen_on_both_faces_runs_through_a_pith_inside_the_limb(make_plain):
    stave = make_plain(ring_radius=0.012)
    knot = marked_knot(stave, **MARK | {"across": 0.0, "far_diameter": 0.004})
    assert knot.length == pytest.approx(float(shape_at(stave, [0.31]).thickness[0]))
    assert knot.far_radius == pytest.approx(0.002)


def test_far_diameter_is_taken_as_given(make_stave):
    knot = marked_knot(make_stave(), **MARK | {"across": 0.0, "far_diameter": 0.005})
    sine = -knot.direction[2]
    assert knot.far_radius == pytest.approx(0.0025 * sine, rel=5e-3)
    ended = marked_knot(make_stave(), **MARK | {"far_diameter": 0.0})
    assert ended.far_radius == 0.0


def test_a_side_knot_runs_across_the_limb(make_stave):
    """A radial branch would graze the side at a few degrees and leave no round mark."""
    knot = marked_knot(make_stave(), **MARK | {"face": "right", "across": 0.001})
    np.testing.assert_allclose(knot.direction, [0, -1, 0])
    left = marked_knot(make_stave(), **MARK | {"face": "left", "across": 0.001})
    assert left.entry[1] == pytest.approx(-knot.entry[1])
    np.testing.assert_allclose(left.direction, [0, 1, 0])
    assert knot.length == pytest.approx(2 * knot.entry[1], rel=1e-6)


def test_a_grazing_branch_turns_into_the_face_by_degrees(make_plain):
    """A mark moved by a tenth of a millimetre is read as nearly the same knot."""
    stave = make_plain(ring_radius=0.03)
    across = np.arange(-0.004, 0.0082, 1e-4)
    knots = [marked_knot(stave, **MARK | {"face": "right", "across": a}) for a in across]
    turned = np.array([k.direction for k in knots])
    assert np.abs(np.diff(turned, axis=0)).max() < 0.03
    assert np.ptp([k.radius for k in knots]) > 1e-4


def test_a_knot_carved_away_is_kept(make_stave, make_plain):
    """Its swirl may remain, so it stays in the stave though none of it is in the limb."""
    for make in (make_stave, make_plain):
        knot = marked_knot(make(), **MARK | {"across": 0.024})
        assert knot.entry[1] == pytest.approx(0.024)
        assert not np.any(inside_knot(knot, 0.31, np.linspace(-0.016, 0.016, 9), 0.0))
        assert knot.length > 0.0


def test_lower_limb_is_negative(make_stave):
    knot = marked_knot(make_stave(), **MARK | {"limb": "lower"})
    assert knot.x == knot.entry[0] == -0.31


def test_span_holds_the_whole_knot():
    knot = cone((-0.7, 0.1, -1), far_radius=0.006)
    low, high = knot_span(knot)
    s = np.linspace(0, knot.length, 50)
    x = knot.entry[0] + s * knot.direction[0]
    assert np.all(low < x - radius_at(knot, s))
    assert np.all(high > x + radius_at(knot, s))


def test_volume_of_the_cone(make_plain):
    """Truncated cone: pi L (r1^2 + r1 r2 + r2^2) / 3, by counting points."""
    knot = marked_knot(make_plain(), **MARK | {"far_diameter": 0.005})
    edges = [np.linspace(-0.006, 0.006, 81) + knot.entry[i] for i in (0, 1)]
    edges.append(np.linspace(-knot.length, 0.0, 81) + knot.entry[2])
    x, y, z = np.meshgrid(*[[(a + b) / 2 for a, b in pairwise(e)] for e in edges], indexing="ij")
    cell = 0.012**2 * knot.length / 80**3
    r1, r2 = 0.0045, 0.0025
    expected = np.pi * knot.length * (r1**2 + r1 * r2 + r2**2) / 3
    assert inside_knot(knot, x, y, z).sum() * cell == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"at": 0.9}, "outside the stave"),
        ({"at": -0.3}, "positive length"),
        ({"lean": 1.6}, "below a right angle"),
        ({"limb": "top"}, 'limb = "top"'),
        ({"face": "front"}, 'face = "front"'),
        ({"diameter": 0.0}, "diameter = 0 m"),
        ({"far_diameter": -0.001}, "cannot be negative"),
        ({"state": "rotten"}, 'state = "rotten"'),
        ({"state": "filled"}, '"filled" has a filler'),
        ({"filler": Filler(E=2e9, tension=4e7, shear=2e7)}, "other states have none"),
    ],
)
def test_messages(make_stave, change, words):
    with pytest.raises(GeometryError, match=words):
        marked_knot(make_stave(), **MARK | change)


def test_filler_must_hold_something():
    with pytest.raises(MaterialError, match='use state = "missing"'):
        Filler(E=0.0, tension=1.0, shear=1.0)


@pytest.mark.parametrize(("limb", "station"), [("lower", -0.2), ("upper", 0.2)])
def test_stations_of_the_lower_limb_are_negative(limb, station):
    assert signed_station(limb, 0.2) == station


@pytest.mark.parametrize(
    ("direction", "entry", "meets"),
    [
        ((0, 0, 1), (0.31, 0.0005, -0.009), True),  # from the other face, axes 5.5 mm apart
        ((0, 0, 1), (0.31, 0.002, -0.009), False),  # 7 mm apart, radii 2.5 and 4 mm
        ((0, 0, -1), (0.3175, -0.005, 0.011), True),
        ((0, 0, -1), (0.3185, -0.005, 0.011), False),
        ((0, 1, 0), (0.31, -0.019, 0.001), True),  # in from the side, through the other
        ((0, -1, 0), (0.31, 0.019, -0.013), False),  # under its far end
    ],
)
def test_knots_meet_where_they_share_wood(direction, entry, meets):
    """Straight down from the back at y = -5 mm, 4 mm in radius at the top, 2.5 at the bottom."""
    one = cone((0, 0, -1))
    other = cone(direction, entry=entry)
    assert knots_meet(one, other) is meets
    assert knots_meet(other, one) is meets
