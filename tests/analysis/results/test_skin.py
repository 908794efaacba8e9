"""The swept skin against closed forms: circular arcs, prisms, rotated frames."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import trapezoid
from scipy.spatial.transform import Rotation

from limbfe.analysis.results.skin import locate, place, spread, sweep_skin

from ... import invented_bow as given


def enclosed_volume(skin) -> float:
    """Volume by the divergence theorem; positive when every face turns outwards."""
    p = skin.points
    triangles = np.concatenate([skin.quads[:, [0, 1, 2]], skin.quads[:, [0, 2, 3]], skin.triangles])
    a, b, c = (p[triangles[:, i]] for i in range(3))
    return float(np.einsum("ni,ni->", a, np.cross(b, c)) / 6.0)


def edge_counts(skin) -> np.ndarray:
    loops = [np.stack([q, np.roll(q, -1, axis=1)], -1) for q in (skin.quads, skin.triangles)]
    edges = np.concatenate([loop.reshape(-1, 2) for loop in loops])
    return np.unique(edges, axis=0, return_counts=True)[1], {tuple(e) for e in edges.tolist()}


def test_axis_between_nodes_follows_the_arc():
    pose = given.make_pose("drawn", 0.7)
    x = np.linspace(given.LOWER, given.UPPER, 331)
    positions, rotations = locate(pose, x)
    # Limb bent to a radius of 0.65 m, nodes 20 mm apart: the cubic is within a micrometre.
    np.testing.assert_allclose(positions, given.arc_position(x, "drawn"), atol=2e-5)
    away_from_grip = np.abs(np.abs(x) - given.HALF_GRIP) > 0.03
    np.testing.assert_allclose(
        positions[away_from_grip], given.arc_position(x, "drawn")[away_from_grip], atol=2e-6
    )
    np.testing.assert_allclose(rotations, given.frames(x, "drawn"), atol=1e-9)


def test_places_section_coordinates():
    pose = given.make_pose("drawn", 0.7)
    point = place(pose, [0.4, 0.003, 0.011])
    frame = given.frames(np.array([0.4]), "drawn")[0]
    expected = given.arc_position(0.4, "drawn") + 0.003 * frame[:, 1] + 0.011 * frame[:, 2]
    np.testing.assert_allclose(point, expected, atol=2e-6)
    assert point[0] < given.arc_position(0.4, "drawn")[0], "the back looks at the target"


@pytest.mark.parametrize("turn", [1, -1])
def test_skin_is_closed_and_turns_outwards(assessment, turn):
    surface = assessment.surface
    skin = sweep_skin(assessment.drawn.poses[2], surface.x, surface.ring[:, ::turn])
    counts, edges = edge_counts(skin)
    assert np.all(counts == 1)
    assert all((b, a) in edges for a, b in edges), "every edge is shared by two faces"
    area = np.abs(
        np.sum(
            surface.ring[..., 0] * np.roll(surface.ring[..., 1], -1, axis=1)
            - surface.ring[..., 1] * np.roll(surface.ring[..., 0], -1, axis=1),
            axis=1,
        )
        / 2
    )
    # Pappus: sections at right angles to a curved axis enclose area times the centroid's path;
    # the half-ellipse's centroid lies off the axis by 0.076 of its depth, on the back's side.
    straight = trapezoid(area, surface.x)
    lever = 0.0756 * given.shape(surface.x).thickness
    kappa = np.where(surface.x < 0, *given.CURVATURES["drawn"])
    bent = np.abs(surface.x) > given.HALF_GRIP
    expected = straight + trapezoid(area * np.where(bent, kappa * lever, 0.0), surface.x)
    assert enclosed_volume(skin) == pytest.approx(expected, rel=1e-3)


def test_turned_bow_gives_turned_skin(assessment):
    pose, surface = assessment.drawn.poses[2], assessment.surface
    turn, shift = Rotation.from_euler("xyz", [0.3, -1.1, 2.0]).as_matrix(), np.array([1.0, -2, 3])
    turned = replace(
        pose, positions=pose.positions @ turn.T + shift, rotations=turn @ pose.rotations
    )
    there = sweep_skin(turned, surface.x, surface.ring).points
    here = sweep_skin(pose, surface.x, surface.ring).points
    np.testing.assert_allclose(there, here @ turn.T + shift, atol=1e-12)


def test_fields_are_spread_in_the_order_of_the_points(assessment):
    surface = assessment.surface
    skin = sweep_skin(assessment.drawn.poses[0], surface.x, surface.ring)
    stations = np.broadcast_to(surface.x[:, None], surface.ring.shape[:2])
    np.testing.assert_allclose(spread(stations), skin.station)
