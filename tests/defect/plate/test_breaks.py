"""Where in its depth the wood of a plate changes: geometry of a leaning cylinder alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.defect.plate.wood import PlateWood, depth_breaks, faces_at
from limbfe.defect.strip import Ellipse

from ...boards import STRAIGHT, board, hole_through, isotropic

WIDTH, DEEP, RADIUS, LEAN = 0.04, 0.016, 0.004, 0.75
"""The knot's middle moves by LEAN along the limb for a metre of depth."""


@pytest.fixture(scope="module")
def leaning():
    through = hole_through(Ellipse(x=0.0, y=0.0, a=RADIUS, b=RADIUS), DEEP)
    rows = through.traces.copy()
    rows[0] = LEAN * through.z
    return PlateWood(
        stave=board(WIDTH, DEEP), woods=(isotropic(),) * 3, grading=0.5, grain=STRAIGHT, decays=(),
        knots=(replace(through, traces=rows),),
    )  # fmt: skip


def breaks_at(wood, x, y):
    points = np.array([[x, y]])
    return depth_breaks(wood, points, faces_at(wood, points))[0]


@pytest.mark.parametrize("x", [0.0, 1e-3, -2.3e-3, 5e-3, -7e-3, 8.5e-3])
def test_a_column_through_the_middle_of_a_leaning_knot_breaks_at_its_rims(leaning, x):
    """In the plane of its lean the distance from its axis is linear, so that nothing is off."""
    found = breaks_at(leaning, x, 0.0)
    assert np.all(np.diff(found) >= 0.0)
    assert found[[0, -1]] == pytest.approx([-DEEP / 2, DEEP / 2])
    for rim in ((x - RADIUS) / LEAN, (x + RADIUS) / LEAN):
        off = np.abs(found - rim).min()
        assert off < 1e-9 if abs(rim) < DEEP / 2 else off > 0.0


@pytest.mark.parametrize("y", [-2e-3, 3e-3])
def test_beside_its_middle_they_are_found_to_a_look(leaning, y):
    """There the rim is a curve, and a straight line is drawn between two looks at it (1 mm)."""
    half = np.sqrt(RADIUS**2 - y**2)
    for x in (3e-3, -4.4e-3):
        found = breaks_at(leaning, x, y)
        for rim in ((x - half) / LEAN, (x + half) / LEAN):
            if abs(rim) < DEEP / 2:
                assert np.abs(found - rim).min() < 0.1e-3


def test_a_column_clear_of_the_knot_has_no_other_breaks_than_faces_and_middle(leaning):
    for x, y in ((0.03, 0.0), (0.0, 1.05 * RADIUS)):
        found = breaks_at(leaning, x, y)
        assert np.unique(found) == pytest.approx([-DEEP / 2, 0.0, DEEP / 2])
