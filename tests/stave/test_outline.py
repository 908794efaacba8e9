"""Outlines of the cross-section against closed forms and brute force."""

import numpy as np
import pytest
from scipy.integrate import quad

from limbfe.stave import (
    SectionShapes,
    back_z,
    backing_z,
    belly_z,
    edge_z,
    inside_outline,
    sapwood_z,
    side_y,
)
from limbfe.stave.faces import face_point, ray_length
from limbfe.stave.marks import FACES
from limbfe.stave.profile import one_shape


def shapes(**changes):
    values = {
        "x": [0.1, 0.4],
        "width": [0.032, 0.026],
        "thickness": [0.022, 0.018],
        "sapwood": [0.006, 0.004],
        "lean": [0.07, -0.03],
        "backing": [0.002, 0.003],
        "crown": 0.05,
        "belly": "round",
        "belly_corner": 0.0,
    } | changes
    columns = ("x", "width", "thickness", "sapwood", "lean", "backing")
    return SectionShapes(**values | {name: np.array(values[name]) for name in columns})


def area(s, k):
    half = s.width[k] / 2
    one = one_shape(s, k)

    def depth(y):
        return float(back_z(one, [[y]])[0, 0] - belly_z(one, [[y]])[0, 0])

    ends = [-half + s.belly_corner, half - s.belly_corner]
    return quad(depth, -half, half, points=ends, epsabs=1e-15, epsrel=1e-12, limit=200)[0]


@pytest.mark.parametrize("k", [0, 1])
def test_area_of_a_crowned_back_over_a_half_ellipse(k):
    """Circular segment plus half ellipse, closed forms."""
    s = shapes()
    half, R = s.width[k] / 2, s.crown[k]
    sagitta = R - np.sqrt(R**2 - half**2)
    segment = R**2 * np.arcsin(half / R) - half * (R - sagitta)
    expected = segment + np.pi / 2 * half * (s.thickness[k] - sagitta)
    assert area(s, k) == pytest.approx(expected, rel=1e-9)


def test_area_of_a_rectangle_with_two_rounded_corners():
    s = shapes(crown=np.inf, belly="corner", belly_corner=0.005)
    expected = 0.032 * 0.022 - (2 - np.pi / 2) * 0.005**2
    assert area(s, 0) == pytest.approx(expected, rel=1e-9)


def test_middle_of_back_and_belly_are_a_thickness_apart():
    for belly in ("flat", "round", "corner"):
        s = shapes(belly=belly, belly_corner=0.004)
        np.testing.assert_allclose(back_z(s, [[0.0], [0.0]])[:, 0], s.thickness / 2)
        np.testing.assert_allclose(belly_z(s, [[0.0], [0.0]])[:, 0], -s.thickness / 2)


def test_a_round_belly_hangs_from_the_back_s_edges():
    s = shapes()
    edge = s.width / 2
    np.testing.assert_allclose(belly_z(s, edge), back_z(s, edge), atol=1e-17)
    np.testing.assert_allclose(edge_z(s), back_z(s, -edge))


@pytest.mark.parametrize("crown", [0.05, np.inf])
def test_layers_are_parallel_to_the_back(crown):
    """Brute force: every point of the boundary is `depth` away from the nearest point of the back.

    Without lean; measured only where the foot of the shortest distance lies on the back.
    """
    s = shapes(crown=crown, lean=[0.0, 0.0])
    y = np.broadcast_to(np.linspace(-0.010, 0.010, 21), (2, 21))
    fine = np.linspace(-0.013, 0.013, 20001)
    for k in range(2):
        back = np.stack([fine, back_z(one_shape(s, k), fine[None])[0]])
        for boundary, depth in (
            (backing_z(s, y)[k], s.backing[k]),
            (sapwood_z(s, y)[k], s.backing[k] + s.sapwood[k]),
        ):
            points = np.stack([y[k], boundary])
            gaps = np.linalg.norm(points[:, :, None] - back[:, None, :], axis=0).min(axis=1)
            np.testing.assert_allclose(gaps, depth, rtol=1e-6)


def test_lean_makes_the_sapwood_thicker_on_the_archer_s_right():
    s, straight = shapes(crown=np.inf), shapes(crown=np.inf, lean=[0.0, 0.0])
    y = np.array([[-0.008, 0.0, 0.008]] * 2)
    dip = sapwood_z(straight, y) - sapwood_z(s, y)
    np.testing.assert_allclose(dip[0], np.tan(0.07) * y[0], atol=1e-17)
    np.testing.assert_allclose(dip[1], np.tan(-0.03) * y[1], atol=1e-17)


def test_sapwood_never_rises_into_the_backing_and_no_sapwood_means_none():
    y = np.linspace(-0.016, 0.016, 9) * np.ones((2, 1))
    steep = shapes(lean=[0.9, 0.9])
    assert np.all(sapwood_z(steep, y) <= backing_z(steep, y))
    none = shapes(sapwood=[0.0, 0.004])
    np.testing.assert_array_equal(sapwood_z(none, y)[0], backing_z(none, y)[0])


def test_a_very_arched_back_is_sapwood_all_through_at_its_flanks():
    s = shapes(crown=0.0165, sapwood=[0.006, 0.004], lean=[0.0, 0.0], thickness=[0.034, 0.03])
    flank = np.array([[0.0155], [0.012]])
    assert np.all(sapwood_z(s, flank)[0] <= -s.thickness[0] / 2)


@pytest.mark.parametrize("belly", ["flat", "round", "corner"])
@pytest.mark.parametrize("crown", [0.05, np.inf])
def test_side_is_where_back_and_belly_meet_the_height(belly, crown):
    s = shapes(belly=belly, crown=crown, belly_corner=0.005)
    z = np.linspace(-0.0088, 0.0088, 15) * np.ones((2, 1))
    y = side_y(s, z)
    assert np.all(inside_outline(s, y * 0.9999, z))
    outside = ~inside_outline(s, y * 1.0001, z)
    assert np.all(outside)


def test_outline_broadcasts_over_elements_and_points():
    s = shapes()
    y = np.random.default_rng(1).uniform(-0.012, 0.012, (2, 5, 3))
    for k in range(2):
        np.testing.assert_array_equal(belly_z(s, y)[k], belly_z(one_shape(s, k), y[k : k + 1])[0])


@pytest.mark.parametrize("belly", ["flat", "round", "corner"])
@pytest.mark.parametrize("face", FACES)
def test_face_normals_point_inward_and_square_to_the_outline(face, belly):
    s = one_shape(shapes(belly=belly, belly_corner=0.005), 0)
    for across in (-0.0125, 0.0, 0.004):
        if face in ("left", "right"):
            across *= 0.3
        point, normal = face_point(s, face, across)
        assert np.linalg.norm(normal) == pytest.approx(1.0)
        inside = point + 1e-6 * normal
        assert inside_outline(s, inside[None, :1], inside[None, 1:])[0, 0]
        if face in ("back", "belly"):
            h = 1e-7
            near = face_point(s, face, across + h)[0] - face_point(s, face, across - h)[0]
            assert near @ normal / np.linalg.norm(near) == pytest.approx(0.0, abs=1e-6)


def test_ray_leaves_where_the_outline_is():
    s = one_shape(shapes(), 0)
    start, normal = face_point(s, "back", 0.007)
    length = ray_length(s, start, normal)
    y, z = start + length * normal
    assert z == pytest.approx(float(belly_z(s, [[y]])[0, 0]), abs=1e-12)
    assert ray_length(s, np.array([0.02, 0.02]), np.array([0.0, 1.0])) == 0.0
