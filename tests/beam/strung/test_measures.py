"""Measures of the trade on bows whose answer is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.beam import Chain, brace, draw, measure, own_frame
from limbfe.beam.strung.measures import tip_stiffness

from ..make import bow_1800, straight_chain
from .test_holds import crooked_bow


def test_even_bow_is_even():
    bow = bow_1800(10)
    state = draw(bow, brace(bow, height=0.15), [0.6])[0]
    found = measure(bow, state, distance=0.45)
    assert found.tiller == pytest.approx(0.0, abs=1e-9)
    assert found.share == pytest.approx([0.5, 0.5])
    assert found.track == pytest.approx(0.0, abs=1e-9)
    assert found.tip_twist == pytest.approx([0.0, 0.0], abs=1e-9)


def test_weaker_upper_limb_stands_further_from_the_string_and_takes_its_share():
    bow = bow_1800(10, kind="hand")
    stiffness = np.array(bow.chain.stiffness)
    stiffness[11:] *= 0.85
    chain = bow.chain
    bow = replace(
        bow,
        chain=Chain(
            positions=chain.positions,
            rotations=chain.rotations,
            stiffness=stiffness,
            mass=chain.mass,
        ),
    )
    braced = brace(bow, height=0.15)
    state = draw(bow, braced, [0.6])[0]
    # by hand: nodes 5 and 16 stand 0.475 m from the middle; twice the area of the triangle of node
    # and string, over its base, is the node's distance from that half of the string
    found = measure(bow, state, distance=0.475)
    assert bow.chain.positions[[5, 16], 2] == pytest.approx([-0.475, 0.475])
    low, point, high = own_frame(bow, state, state.string_points)
    nodes = own_frame(bow, state, state.positions)[[5, 16]]
    apart = []
    for node, end in zip(nodes, (low, high), strict=True):
        (ax, _, az), (bx, _, bz) = end - node, point - node
        apart.append(abs(ax * bz - az * bx) / np.linalg.norm(point - end))
    assert found.tiller == pytest.approx(apart[1] - apart[0], rel=1e-9)
    # common practice: the weaker limb bends more and stands further from the string
    assert found.tiller > 0.005
    assert measure(bow, braced, distance=0.475).tiller > 0.0
    pulls = [
        state.string_tension[i] * (point - end)[0] / np.linalg.norm(point - end)
        for i, end in enumerate((low, high))
    ]
    assert found.share == pytest.approx(np.array(pulls) / sum(pulls), rel=1e-9)
    assert found.share.sum() == pytest.approx(1.0)


def test_coupled_bow_twists_shifts_and_tracks_to_one_side():
    bow = crooked_bow("clamp")
    state = draw(bow, brace(bow, height=0.15), [0.6])[0]
    found = measure(bow, state, distance=0.4)
    shift = state.positions[[0, -1], 1] - bow.chain.positions[[0, -1], 1]
    assert found.tip_shift == pytest.approx(shift, abs=1e-12)
    low, point, _ = state.string_points
    assert min(low[1], point[1]) <= found.track <= max(low[1], point[1])
    assert np.all(np.abs(found.tip_twist) > 1e-4)


def test_tip_stiffness_of_uniform_limbs():
    """Timoshenko's cantilever (closed form): movement ``L^3/3EI + L/GA`` per force at the nock.

    Limbs of unequal length, stiffness unequal both ways, so that a swap shows.
    """
    x = np.concatenate([-0.05 - np.linspace(0.7, 0.0, 5), 0.05 + np.linspace(0.0, 0.8, 6)])
    bow = bow_1800(5)
    EI, GA = 40.0, 3e5
    section = np.diag([1e6, GA, GA, 20.0, EI, 90.0])
    chain = straight_chain(x, np.broadcast_to(section, (len(x) - 1, 2, 6, 6)))
    even = replace(bow, chain=chain, clamped=(4, 5))
    lengths = np.array([0.7, 0.8])
    expected = 1.0 / (lengths**3 / (3.0 * EI) + lengths / GA)
    assert tip_stiffness(even) == pytest.approx(expected, rel=1e-12)
