"""Solids and face maps as arrays, before anything is drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.stave.decay import inside_decay
from limbfe.stave.knot import inside_knot
from limbfe.view.bow.parts import (
    PROUD,
    clip_to_skin,
    decay_solid,
    face_map,
    knot_solid,
    outline_at,
    reach_tips,
)

from ... import invented_bow as given


def test_surface_reaches_both_tips(assessment):
    surface = assessment.surface
    short = replace(
        surface,
        **{
            name: getattr(surface, name)[1:-1]
            for name in ("x", "ring", "layer", "axial_strain", "axial_stress", "strength_used")
        },
    )
    whole = reach_tips(short, given.LOWER, given.UPPER)
    assert (whole.x[0], whole.x[-1]) == (given.LOWER, given.UPPER)
    width = np.ptp(whole.ring[[0, -1], :, 0], axis=1)
    expected = given.shape(np.array([given.LOWER, given.UPPER])).width
    np.testing.assert_allclose(width, expected, rtol=0.02)
    np.testing.assert_array_equal(whole.strength_used[0], short.strength_used[0])
    assert reach_tips(whole, given.LOWER, given.UPPER) is whole


def test_outline_between_stations(assessment):
    x = np.array([-0.333, 0.0612, 0.5])
    outline = outline_at(assessment.surface, x)
    np.testing.assert_allclose(np.ptp(outline[..., 0], axis=1), given.shape(x).width, rtol=2e-3)
    np.testing.assert_allclose(outline[..., 1].max(1), given.shape(x).thickness / 2, rtol=2e-3)


def test_points_inside_stay_and_points_outside_land_on_the_skin(assessment):
    bow = given.shape(0.3)
    a, b = bow.width / 2, bow.thickness
    points = np.array(
        [[0.3, 0.002, -0.003], [0.3, 0.004, 0.5], [0.3, 0.6 * a, -0.5], [0.3, 9.0, 0.0]]
    )
    moved = clip_to_skin(assessment.surface, points)
    np.testing.assert_allclose(moved[0], points[0])
    np.testing.assert_allclose(moved[1], [0.3, 0.004, b / 2], rtol=1e-3)
    # The belly is half an ellipse hung from the back's edges.
    np.testing.assert_allclose(moved[2], [0.3, 0.6 * a, b / 2 - b * 0.8], rtol=3e-3, atol=5e-5)
    assert moved[3, 1] == pytest.approx(a, rel=2e-3)


def test_knot_solid_fills_the_cone_inside_the_limb(assessment):
    surface = assessment.surface
    knot = assessment.setup.stave.knots[0]
    solid = knot_solid(knot, surface)
    x, _, z = solid.points.T
    offset = solid.points - knot.entry
    along = offset @ knot.direction
    across = np.linalg.norm(offset - along[:, None] * knot.direction, axis=1)
    assert across.max() < 0.0065, "no wider than the cone, but for the trace on a slanting face"
    inner = np.all(clip_to_skin(surface, solid.points, -PROUD) == solid.points, axis=1)
    assert inner.sum() > 50
    radius = knot.radius + (knot.far_radius - knot.radius) * along / knot.length
    np.testing.assert_array_less(across[inner], radius[inner] + 1e-9)
    centre = knot.entry + 0.5 * knot.length * knot.direction
    assert inside_knot(knot, *centre)
    assert z.max() == pytest.approx(knot.entry[2] + PROUD, abs=1e-4)
    assert abs(x - 0.31).max() < 0.005


def test_knot_that_was_carved_away_has_no_body(assessment):
    knot = replace(assessment.setup.stave.knots[1], entry=np.array([-0.42, 0.03, 0.0095]))
    assert len(knot_solid(knot, assessment.surface).points) == 0


def test_decay_solid_is_the_clipped_ellipsoid(assessment):
    decay = assessment.setup.stave.decays[0]
    points = decay_solid(decay, assessment.surface).points
    np.testing.assert_allclose(points[:, 0].min(), decay.center[0] - decay.semi_axes[0])
    shrunk = decay.center + 0.98 * (points - decay.center)
    inner = clip_to_skin(assessment.surface, shrunk, -0.001)
    inside = np.all(inner == shrunk, axis=1)
    assert inside.sum() > 20
    assert np.all(inside_decay(decay, *shrunk[inside].T))


def test_face_map_takes_the_right_face_and_side(assessment):
    surface = assessment.surface
    x, across = np.array([-0.5, 0.2, 0.6]), np.array([-0.9, 0.0, 0.9])
    y_field, z_field = surface.ring[..., 0], surface.ring[..., 1]
    for face, sign in (("back", 1.0), ("belly", -1.0)):
        y, z, found_y = face_map(surface, face, x, across, y_field)
        np.testing.assert_allclose(found_y, y, atol=1e-12)
        np.testing.assert_allclose(face_map(surface, face, x, across, z_field)[2], z, atol=1e-12)
        assert np.all(np.sign(z[:, 1]) == sign)
    np.testing.assert_allclose(y, given.shape(x).width[:, None] / 2 * across, rtol=3e-3, atol=1e-9)
