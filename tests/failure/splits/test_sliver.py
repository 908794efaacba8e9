"""Slivers split off beside a knot at the edge: closed forms, and the meshed split beside them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.defect.strip import Ellipse
from limbfe.failure.splits.course import Board, follow_split
from limbfe.failure.splits.criterion import GrainStrength
from limbfe.failure.splits.panel import Opening
from limbfe.failure.splits.sliver import (
    MIX,
    at_the_edge,
    cut_depths,
    edge_sliver,
    notch_release,
)
from limbfe.wood.elasticity import Elasticity

from ...defect.streams import stream_function

WOOD = Elasticity(
    E_L=13e9,
    E_R=1e9,
    E_T=1e9,
    G_LR=0.9e9,
    G_LT=0.9e9,
    G_RT=0.1e9,
    nu_LR=0.45,
    nu_LT=0.45,
    nu_RT=0.4,
)
STRENGTH = GrainStrength(across=6e6, shear=14e6, opening=350.0, sliding=1000.0)
DEEP = Board(wood=WOOD, strength=STRENGTH, depth=np.inf, window=2e-3)
WIDTH, RADIUS, MM, MPA = 40e-3, 4e-3, 1e-3, 1e6
KNOT = {"pull": 100 * MPA, "knot": (2e9, 0.3), "joined": False}


def opening(inside, **more):
    """Whose middle lies so far inside the edge."""
    given = {"width": WIDTH, "a": RADIUS, "b": RADIUS, "hollow": False, "swerves": True, **more}
    return Opening(y=0.5 * WIDTH - inside, **given)


@pytest.fixture(scope="module")
def middle():
    return follow_split(opening(0.5 * WIDTH), DEEP, **KNOT)


def alone(inside, middle, stress=np.inf):
    """Of the sliver itself: load at which it starts by energy, and all that it is judged by."""
    found = edge_sliver(opening(inside), DEEP, middle, pull=100 * MPA, stress_used=stress)
    return found.ways[0].split, found


def test_cut_fibres_at_the_middle_of_a_round_knot():
    """Worked by hand: y - R^2 / y = e beyond the edge, so y = (e + sqrt(e^2 + 4 R^2)) / 2."""
    for e in (0.5 * MM, 2 * MM, 6 * MM):
        knot, fibres = cut_depths(opening(-e), np.zeros(1))
        assert knot[0] == pytest.approx(max(RADIUS - e, 0.0), abs=1e-12)
        assert fibres[0] + e == pytest.approx(0.5 * (e + np.hypot(e, 2 * RADIUS)), rel=1e-9)


def test_cut_fibres_are_one_fibre_of_an_oval_knot():
    """The stream function of an ideal flow, by the module that shares nothing with ours."""
    e, a, b = 1.5 * MM, 6 * MM, 4 * MM
    x = np.linspace(0.0, 30 * MM, 13)
    _, fibres = cut_depths(opening(-e, a=a, b=b), x)
    points = np.stack([x, fibres + e], axis=-1)
    assert stream_function(points, (Ellipse(x=0.0, y=0.0, a=a, b=b),), 0.0) == pytest.approx(
        e, rel=1e-6
    )


def test_a_shallow_notch_sets_free_a_strip_of_its_depth():
    """n / 2 of s^2 / E as n goes to nothing; a fifth of the width 1.94 times n W / 2 (W - n)."""
    assert notch_release(np.array([1e-6]), WIDTH)[0] == pytest.approx(0.5e-6, rel=1e-3)
    n = 0.2 * WIDTH
    stretch = 0.5 * n * WIDTH / (WIDTH - n)
    assert notch_release(np.array([n]), WIDTH)[0] / stretch == pytest.approx(1.94, abs=5e-3)


def test_the_meshed_split_of_a_thin_strip_sets_free_what_the_closed_form_says(middle):
    """At a length of twice its thickness; further on the mesh has the knot unload it (15 %)."""
    inside = 1.7 * MM
    meshed = follow_split(opening(inside), DEEP, **KNOT).ways[0].split
    closed, _ = alone(inside, middle)
    least = meshed.need[(meshed.length > inside) & (meshed.length < 3 * inside)].min()
    assert least == pytest.approx(closed.need[0], rel=0.06)


def test_nothing_splits_off_where_the_middle_lies_on_the_edge(middle):
    """From either side; and it goes on steadily through it.

    A strip's load goes with the root of its thickness; at the corner between rim and edge, where
    fibres stagnate, the sliver's thickness goes with the root of what is cut off.
    """
    for way, power in ((1.0, 0.5), (-1.0, 0.25)):
        used = [1.0 / alone(way * one, middle)[0].start for one in (1e-4, 0.25e-4)]
        assert used[1] / used[0] == pytest.approx(0.25**power, rel=0.05)
    judged = [alone(e * MM, middle)[1].run for e in np.arange(1.4, -3.0, -0.02)]
    # by no more than a hundredth of itself and the root's own steepness near nothing
    assert np.abs(np.diff(1.0 / np.array(judged))).max() < 0.02


def test_no_milder_than_in_the_middle_and_no_sooner_than_stress_allows(middle):
    for e in (1.0 * MM, 0.0, -1.0 * MM, -5.0 * MM):
        _, found = alone(e, middle)
        assert found.run <= middle.run
        _, held = alone(e, middle, stress=0.2 / middle.run)
        assert held.run >= 5.0 * middle.run * (1 - 1e-9)


def test_toughness_and_mirror(middle):
    tough = replace(STRENGTH, opening=4 * STRENGTH.opening, sliding=4 * STRENGTH.sliding)
    board = replace(DEEP, strength=tough)
    one = edge_sliver(opening(1 * MM), board, middle, pull=100 * MPA, stress_used=np.inf)
    assert one.ways[0].split.start == pytest.approx(2 * alone(1 * MM, middle)[0].start)
    other = replace(opening(-1 * MM), y=-opening(-1 * MM).y)
    assert at_the_edge(other)
    assert at_the_edge(opening(1 * MM))
    assert not at_the_edge(opening(2 * MM))
    found = edge_sliver(other, DEEP, middle, pull=100 * MPA, stress_used=np.inf)
    assert found.run == alone(-1 * MM, middle)[1].run
    assert found.lines[0].side == -alone(-1 * MM, middle)[1].lines[0].side
    assert np.tan(MIX) == pytest.approx(1.285, abs=2e-3)
