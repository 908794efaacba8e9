"""Exact derivatives against finite differences of whole solves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.beam import Bow, Chain, brace, draw, draw_sensitivities, draw_sensitivity, own_frame
from limbfe.beam.motion import move
from limbfe.errors import GeometryError

from .test_holds import crooked_bow


def changed(bow: Bow, stiffness: np.ndarray, rest: np.ndarray) -> Bow:
    rotations, positions = np.array(bow.chain.rotations), np.array(bow.chain.positions)
    for i in range(len(positions)):
        move(rotations[i], positions[i], np.ascontiguousarray(rest[i]))
    chain = Chain(
        positions=positions,
        rotations=rotations,
        stiffness=bow.chain.stiffness + stiffness,
        mass=bow.chain.mass,
    )
    return replace(bow, chain=chain)


@pytest.mark.parametrize("kind", ["clamp", "hand"])
@pytest.mark.parametrize("keep", ["height", "length"])
@pytest.mark.parametrize("what", ["stiffness", "rest"])
def test_derivatives(kind: str, keep: str, what: str):
    bow = crooked_bow(kind, 7)
    rng = np.random.default_rng(3)
    n, shape = len(bow.chain.positions), bow.chain.stiffness.shape
    size = np.sqrt(np.einsum("...ii->...i", bow.chain.stiffness))
    noise = rng.uniform(-1.0, 1.0, size=shape)
    stiffness = (noise + np.swapaxes(noise, -1, -2)) * size[..., None] * size[..., None, :]
    rest = rng.uniform(-1.0, 1.0, size=(n, 6)) * np.array([0.01, 0.01, 0.02, 0.1, 0.1, 0.1])
    stiffness, rest = (0.3 * stiffness, 0 * rest) if what == "stiffness" else (0 * stiffness, rest)
    braced = brace(bow, height=0.15)
    drawn = draw(bow, braced, [0.6])[0]
    exact = draw_sensitivity(bow, braced, drawn, stiffness[None], rest[None], keep=keep)
    h, sides = 1e-4, []
    for sign in (1.0, -1.0):
        other = changed(bow, sign * h * stiffness, sign * h * rest)
        start = brace(other, height=0.15)
        if keep == "length":
            start = replace(start, string_lengths=braced.string_lengths)
        state = draw(other, start, [0.6])[0]
        tips = own_frame(other, state, state.positions[[0, -1]])
        energy = state.strain_energy + state.string_energy
        point = own_frame(other, state, state.nocking_point)
        nodes = own_frame(other, state, state.positions)
        inner = (state.strains, state.resultants, state.string_tension)
        sides.append((state.draw_force, energy, tips, *inner, point, nodes))
    names = ("force", "energy", "tips", "strains", "resultants", "string_tension")
    moved = np.einsum("nij,nj->ni", drawn.frame.T @ drawn.rotations, exact.nodes[0][:, :3])
    rates = [getattr(exact, name)[0] for name in (*names, "nocking_point")]
    for name, found, high, low in zip(
        (*names, "nocking_point", "nodes"), (*rates, moved), *sides, strict=True
    ):
        slope = (np.asarray(high) - np.asarray(low)) / (2.0 * h)
        assert np.abs(found - slope).max() < 1e-5 * np.abs(slope).max(), name


def test_wrong_shapes_are_refused():
    bow = crooked_bow("clamp", 4)
    braced = brace(bow, height=0.15)
    with pytest.raises(GeometryError, match="stiffness_rates of shape"):
        draw_sensitivity(bow, braced, braced, np.zeros((1, 2, 2, 6, 6)))


def test_many_states_in_one_call():
    bow = crooked_bow("hand", 5)
    braced = brace(bow, height=0.15)
    states = draw(bow, braced, [0.4, 0.6]).states
    rates = np.stack([0.1 * bow.chain.stiffness, 0.2 * bow.chain.stiffness])
    both = draw_sensitivities(bow, braced, states, rates)
    for state, found in zip(states, both, strict=True):
        alone = draw_sensitivity(bow, braced, state, rates)
        np.testing.assert_array_equal(found.force, alone.force)
        np.testing.assert_array_equal(found.nodes, alone.nodes)
