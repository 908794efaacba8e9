"""The arrow's flight against closed forms and a table computed apart from the package."""

from __future__ import annotations

import math

import numpy as np
import pytest

from limbfe.analysis.shot.flight import Shaft, drop_at, farthest, flights, fly

G = 9.81
DEGREE = math.pi / 180.0
# 30 g, 50 m/s, shaft of 8 mm, air 1.225 kg/m3: range, time, height, end speed, angle of fall;
# derived by an integration of its own with g = 9.81
TABLE = [
    (1.5, 45, 197.42044, 6.700288, 55.16577, 39.57285, 51.3867),
    (1.5, 10, 80.10224, 1.731894, 3.67963, 44.28827, 10.8398),
    (2.0, 45, 184.39927, 6.561361, 52.96025, 37.40184, 52.9479),
    (2.0, 40, 184.37398, 5.998275, 44.26864, 37.05749, 47.7818),
    (2.0, 10, 78.05012, 1.719878, 3.62979, 42.71253, 11.1036),
    (2.6, 45, 171.20517, 6.409553, 50.60795, 35.25588, 54.5745),
    (2.6, 10, 75.75199, 1.705900, 3.57252, 40.99117, 11.4105),
]


def decay_of(drag: float) -> float:
    return Shaft(diameter=8e-3, drag=drag).decay(30e-3)


def test_decay_of_the_speed():
    # k = rho C_d A / (2 m)
    assert decay_of(2.0) == pytest.approx(2.0525072e-3, rel=1e-7)


@pytest.mark.parametrize(("drag", "angle", "reach", "time", "height", "end", "fall"), TABLE)
def test_table(drag, angle, reach, time, height, end, fall):
    found = fly(50.0, np.array([angle * DEGREE]), decay_of(drag), gravity=G)[0]
    assert found.distance == pytest.approx(reach, rel=1e-6)
    assert found.time == pytest.approx(time, rel=1e-6)
    assert found.height == pytest.approx(height, rel=1e-6, abs=6e-6)  # the table is rounded
    assert found.end_speed == pytest.approx(end, rel=1e-6)
    assert found.end_angle == pytest.approx(fall * DEGREE, rel=1e-5)


@pytest.mark.parametrize("angle", [10.0, 40.0, 45.0])
def test_without_air_it_flies_a_parabola(angle):
    found = fly(50.0, np.array([angle * DEGREE]), 0.0, gravity=G)[0]
    assert found.distance == pytest.approx(2500.0 * math.sin(2 * angle * DEGREE) / G, rel=1e-9)
    assert found.end_speed == pytest.approx(50.0, rel=1e-9)
    assert found.height == pytest.approx((50.0 * math.sin(angle * DEGREE)) ** 2 / (2 * G), rel=1e-8)


def test_farthest():
    found = farthest(50.0, decay_of(2.0), gravity=G)
    assert found.distance == pytest.approx(184.98968, rel=1e-6)
    assert found.angle / DEGREE == pytest.approx(42.5209, abs=0.02)
    assert farthest(50.0, 0.0, gravity=G).angle / DEGREE == pytest.approx(45.0, abs=0.02)


def test_straight_up():
    # height ln(1 + k v2/g)/(2k)
    found = fly(50.0, np.array([0.5 * math.pi]), decay_of(2.0), gravity=G)[0]
    assert found.height == pytest.approx(102.490450, rel=1e-6)


def test_level_shot_without_gravity_slows_as_it_must():
    # v = v_0 exp(-k x), t = (exp(k x) - 1) / (k v_0)
    decay = decay_of(2.0)
    for distance, speed in ((20.0, 47.989050), (50.0, 45.123250)):
        found = drop_at(50.0, distance, decay, gravity=0.0)
        assert found.speed == pytest.approx(speed, rel=1e-7)
        assert found.time == pytest.approx(np.expm1(decay * distance) / (decay * 50.0), rel=1e-8)
        assert found.drop == 0.0


def test_level_shot_drops_as_a_stone_without_air():
    found = drop_at(50.0, 20.0, 0.0, gravity=G)
    assert found.drop == pytest.approx(0.5 * G * 0.4**2, rel=1e-9)


def test_heavier_arrow_of_the_same_speed_flies_farther():
    shaft = Shaft(diameter=8e-3, drag=3.0)
    light, heavy = (flights(50.0, mass, shaft).farthest.distance for mass in (0.02, 0.04))
    assert light < heavy < 2500.0 / 9.80665
