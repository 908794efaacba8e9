"""The local models wired into the bow: consistency of verdict, draw length and geometry."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.assess import assess_bow
from limbfe.analysis.nodes import node_positions
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.stave.knot import make_knot

ELM = Path(__file__).parents[2] / "cases" / "elm_longbow.toml"


@pytest.fixture(scope="module")
def setup():
    return replace(build_setup(read_case(ELM)), draw_steps=8)


def with_knots(setup, *knots):
    return replace(setup, stave=replace(setup.stave, knots=knots, decays=()))


def knot(setup, **changes):
    given = {
        "name": "K",
        "limb": "upper",
        "at": 0.298,
        "face": "back",
        "across": 0.004,
        "diameter": 0.008,
        "far_diameter": 0.005,
        "state": "live",
    }
    return make_knot(setup.stave, **{**given, **changes})


def test_nodes_lie_at_the_ends_of_every_zone_and_of_the_grip(setup):
    nodes = node_positions(setup)
    assert np.all(np.diff(nodes) > 0.0)
    stave = setup.stave
    wanted = [stave.x[0], -stave.stiff_length / 2, 0.0, stave.stiff_length / 2, stave.x[-1]]
    wanted += [k.x + sign * k.radius for k in stave.knots for sign in (-1, 1)]
    wanted += [d.center[0] + sign * d.semi_axes[0] for d in stave.decays for sign in (-1, 1)]
    assert np.abs(nodes - np.array(wanted)[:, None]).min(axis=1).max() < 1e-12


def test_a_knot_in_the_stiff_grip_is_left_alone(setup):
    (result,) = assess_bow(with_knots(setup, knot(setup, at=0.01))).defects
    assert result.verdict == "sound"
    assert result.strength_used == 0.0
    assert "grip" in result.advice


def test_a_knot_across_the_edge_of_the_grip_is_judged(setup):
    edge = setup.stave.stiff_length / 2.0
    (result,) = assess_bow(with_knots(setup, knot(setup, at=edge + 0.002))).defects
    assert 0.0 < result.strength_used < 2.0


def test_a_wider_knot_uses_more_strength_and_a_pin_knot_little(setup):
    small, large = (
        assess_bow(with_knots(setup, knot(setup, diameter=d, far_diameter=0.6 * d))).defects[0]
        for d in (0.002, 0.012)
    )
    assert small.strength_used < large.strength_used
    assert large.strength_ratio < small.strength_ratio <= 1.02
    for result in (small, large):
        assert result.strength_used_low <= result.strength_used <= result.strength_used_high
        assert 0.0 <= result.failure_probability <= 1.0


@pytest.mark.slow
def test_at_the_draw_length_of_the_split_the_strength_is_used_up(setup):
    """Draw the bow afresh to the length that was named: the split must then be at its limit.

    Two per cent: the length is interpolated between states, and strains do not grow evenly.
    """
    one = with_knots(setup, knot(setup, diameter=0.009))
    (result,) = assess_bow(one).defects
    assert result.draw_length_at_split is not None
    again = assess_bow(replace(one, draw_length=result.draw_length_at_split)).defects[0]
    assert again.strength_used == pytest.approx(1.0, rel=0.02)
