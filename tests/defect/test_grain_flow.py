"""Fibre flow round ellipses: tangency, far field, stream lines, several knots, bulges.

The flow past an ellipse by Joukowski's map is a closed form; the checks are the properties that
define it (no flow through the rim, uniform far away, curl-free and source-free), and the
circle's textbook solution: psi = U (r - R^2 / r) sin theta (L. M. Milne-Thomson, Theoretical
Hydrodynamics, ch. VI, from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.defect.grain_flow import bulge_slope, fibre_angle, follow_fibres
from limbfe.defect.strip import Ellipse, Ellipses, elliptic_radius, rim

from .streams import stream_function

ELLIPSES = [
    Ellipse(x=0.3, y=-0.2, a=5.0, b=5.0),
    Ellipse(x=0.3, y=-0.2, a=10.0, b=5.0),
    Ellipse(x=1.3, y=0.7, a=7.5, b=5.0, angle=0.4),
    Ellipse(x=-2.3, y=0.7, a=4.0, b=6.0, angle=-0.7),
]


def difference(first, second):
    """Angle between two undirected lines."""
    return np.abs(np.angle(np.exp(2j * (first - second)))) / 2.0


@pytest.mark.parametrize("far", [0.0, 0.12, -0.5])
@pytest.mark.parametrize("ellipse", ELLIPSES)
def test_tangent_to_the_rim(ellipse, far):
    """Within 2e-4 rad outside a thousandth of a stagnation point's neighbourhood."""
    t = np.linspace(0.0, 2.0 * np.pi, 721)[:-1] + 0.00123
    h = 1e-6
    along = rim(ellipse, t + h) - rim(ellipse, t - h)
    tangent = np.arctan2(along[:, 1], along[:, 0])
    points = rim(ellipse, t)
    centre = np.array([ellipse.x, ellipse.y])
    angle = fibre_angle(centre + (points - centre) * (1.0 + 1e-9), (ellipse,), far)
    speed = np.hypot(
        *(
            stream_function(points + d, (ellipse,), far)
            - stream_function(points - d, (ellipse,), far)
            for d in (np.array([1e-4, 0.0]), np.array([0.0, 1e-4]))
        )
    )
    moving = speed > 0.02 * speed.max()
    assert np.count_nonzero(moving) > 700
    assert difference(angle, tangent)[moving].max() < 2e-4


@pytest.mark.parametrize("ellipse", ELLIPSES)
def test_rim_is_one_fibre(ellipse):
    """psi is constant on the rim (relative to the ellipse's size 1e-12)."""
    psi = stream_function(rim(ellipse, np.linspace(0, 2 * np.pi, 97)), (ellipse,), 0.2)
    assert np.ptp(psi) < 1e-11


@pytest.mark.parametrize("ellipse", ELLIPSES)
def test_fibres_are_lines_of_constant_psi(ellipse):
    rng = np.random.default_rng(8)
    points = rng.uniform(-30.0, 30.0, (400, 2))
    points = points[elliptic_radius(ellipse, points) > 1.05]
    h = 1e-5
    dx = [
        (
            stream_function(points + s, (ellipse,), 0.15)
            - stream_function(points - s, (ellipse,), 0.15)
        )
        for s in np.eye(2) * h
    ]
    numeric = np.arctan2(-dx[0], dx[1])
    assert difference(fibre_angle(points, (ellipse,), 0.15), numeric).max() < 1e-6


def test_circle_in_closed_form():
    ellipse = Ellipse(x=0.0, y=0.0, a=3.0, b=3.0)
    rng = np.random.default_rng(1)
    r, theta = rng.uniform(3.0, 20.0, 50), rng.uniform(-np.pi, np.pi, 50)
    points = np.stack([r * np.cos(theta), r * np.sin(theta)], axis=1)
    psi = stream_function(points, (ellipse,), 0.0)
    assert psi == pytest.approx((r - 9.0 / r) * np.sin(theta), abs=1e-12)
    disturbance = np.angle(1.0 - 9.0 / (points[:, 0] + 1j * points[:, 1]) ** 2)
    assert difference(fibre_angle(points, (ellipse,), 0.0), -disturbance).max() < 1e-12


def test_far_field_and_decay():
    """At ten radii the disturbance is (R / r)^2: 0.57 degrees at most."""
    ellipse = Ellipse(x=0.0, y=0.0, a=2.0, b=2.0)
    t = np.linspace(0, 2 * np.pi, 60)
    points = 20.0 * np.stack([np.cos(t), np.sin(t)], axis=1)
    assert difference(fibre_angle(points, (ellipse,), 0.3), 0.3).max() < 0.0101


def test_two_knots_superpose():
    """Far apart each is tangent to its own rim; a knot far away changes nothing."""
    one, other = Ellipse(x=0.0, y=0.0, a=2.0, b=1.5), Ellipse(x=3.0, y=60.0, a=2.0, b=2.0)
    t = np.linspace(0.3, 2.8, 40)
    points = rim(one, t)
    alone = fibre_angle(points, (one,), 0.1)
    both = fibre_angle(points, (one, other), 0.1)
    assert difference(alone, both).max() < 5e-3
    psi = stream_function(points, (one, other), 0.1)
    single = stream_function(points, (one,), 0.1) + stream_function(points, (other,), 0.1)
    straight = points @ [-np.sin(0.1), np.cos(0.1)]
    assert psi == pytest.approx(single - straight, abs=1e-10)


def test_angle_is_folded():
    ellipse = Ellipse(x=0.0, y=0.0, a=2.0, b=2.0)
    t = np.linspace(0, 2 * np.pi, 301)
    points = 2.001 * np.stack([np.cos(t), np.sin(t)], axis=1)
    angle = fibre_angle(points, (ellipse,), 0.4)
    assert angle.max() <= np.pi / 2
    assert angle.min() > -np.pi / 2


def test_bulge_slope_is_the_slope_of_the_bulge():
    """Against the numeric derivative of h0 exp(-((rho - 1) b / lam)^2) along the fibre."""
    ellipse = Ellipse(x=0.5, y=-0.3, a=4.0, b=3.0, angle=0.5)
    height, reach = 0.8, 2.5

    def surface(points):
        rho = elliptic_radius(ellipse, points)
        return height * np.exp(-(((rho - 1.0) * ellipse.b / reach) ** 2))

    rng = np.random.default_rng(4)
    points = rng.uniform(-9.0, 9.0, (300, 2))
    points = points[elliptic_radius(ellipse, points) > 1.01]
    angle = fibre_angle(points, (ellipse,), 0.1)
    h = 1e-5
    step = h * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    numeric = (surface(points + step) - surface(points - step)) / (2.0 * h)
    got = bulge_slope(points, angle, ellipse, height, reach)
    assert got == pytest.approx(numeric, abs=1e-8)
    assert np.abs(got).max() > 0.1


def test_fibres_are_followed_by_half_steps_both_ways():
    """Against the same steps taken one by one, beside two knots."""
    knots = (
        Ellipse(x=0.0, y=0.0, a=6e-3, b=4e-3, angle=0.3),
        Ellipse(x=0.012, y=9e-3, a=3e-3, b=3e-3),
    )
    far, half = 2.9, 7
    start = np.array([[-8e-3, 1e-3], [0.0, 4.5e-3], [7e-3, -3e-3], [0.02, 0.0]])
    angle = fibre_angle(start, knots, far)
    step = np.array([1e-3, 5e-4, 8e-4, 2e-3])
    middle, direction = follow_fibres(start, angle, step, half, knots, far)
    for k, at in enumerate(start):
        for sense, sign in enumerate((1.0, -1.0)):
            place, heading = at, sign * np.array([np.cos(angle[k]), np.sin(angle[k])])
            for n in range(half):
                ahead = place + 0.5 * step[k] * heading
                turned = float(fibre_angle(ahead, knots, far))
                fresh = np.array([np.cos(turned), np.sin(turned)])
                heading = fresh if fresh @ heading >= 0.0 else -fresh
                column = sense * half + n
                assert middle[:, k, column] == pytest.approx(ahead, rel=1e-12)
                assert direction[:, k, column] == pytest.approx(sign * heading, rel=1e-9)
                place = place + step[k] * heading


def test_one_trace_for_every_depth_is_one_ellipse_each():
    points = np.random.default_rng(4).uniform(-0.02, 0.02, size=(9, 1, 2))
    sizes = np.linspace(2e-3, 6e-3, 5)
    moved = 1e-3 * np.arange(5)
    traces = Ellipses(x=moved, y=-moved, a=sizes, b=0.7 * sizes, angle=20.0 * moved)
    together = fibre_angle(points, (traces,), 0.2)
    for k, a in enumerate(sizes):
        one = Ellipse(x=moved[k], y=-moved[k], a=a, b=0.7 * a, angle=20.0 * moved[k])
        assert together[:, k] == pytest.approx(fibre_angle(points[:, 0], (one,), 0.2), rel=1e-12)
