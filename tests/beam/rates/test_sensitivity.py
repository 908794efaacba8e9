"""Exact derivatives against finite differences of whole solves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.beam import (
    Bow,
    BowState,
    Chain,
    brace,
    draw,
    own_frame,
    sensitivities_along,
)
from limbfe.beam.limbs.motion import move
from limbfe.beam.rates.changes import RestRates, elastic_rates, rest_rates
from limbfe.errors import GeometryError

from ..strung.test_holds import crooked_bow

NAMES = ("force", "energy", "positions", "string_points", "strains", "resultants", "string_tension")


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


def rates_of(bow: Bow, states: list[BowState], stiffness: np.ndarray, rest=None, keep="height"):
    """Of an elastic bow, braced first."""
    sections = [elastic_rates(bow, state, stiffness) for state in states]
    rest = rest_rates(bow, len(stiffness), rest)
    return tuple(sensitivities_along(bow, states, sections, rest, keep=keep))


def looked_at(bow: Bow, state: BowState) -> tuple[object, ...]:
    """The quantities of `NAMES` of one state."""
    energy = state.strain_energy + state.string_energy
    places = (own_frame(bow, state, p) for p in (state.positions, state.string_points))
    return (
        *(state.draw_force, energy, *places),
        *(state.strains, state.resultants, state.string_tension),
    )


def solved(bow: Bow, keep: str, like: BowState, length: float) -> tuple[BowState, BowState]:
    if keep == "length":
        start = brace(bow, length=float(like.string_lengths.sum()))
    else:
        start = brace(bow, height=like.brace_height)
    if keep == "string":
        start = replace(start, string_lengths=like.string_lengths)
    return start, draw(bow, start, [length])[0]


def agrees(exact: object, high: object, low: object, h: float, names: tuple[str, ...] = NAMES):
    for name, one, other in zip(NAMES, high, low, strict=True):
        slope = (np.asarray(one) - np.asarray(other)) / (2.0 * h)
        if name in names:
            found = getattr(exact, name)[0]
            assert np.abs(found - slope).max() < 1e-5 * np.abs(slope).max(), name


@pytest.mark.parametrize("kind", ["clamp", "hand"])
@pytest.mark.parametrize("keep", ["height", "length", "string"])
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
    _, exact = rates_of(bow, [braced, drawn], stiffness[None], rest[None], keep)
    h, sides = 1e-4, []
    for sign in (1.0, -1.0):
        other = changed(bow, sign * h * stiffness, sign * h * rest)
        sides.append(looked_at(other, solved(other, keep, braced, 0.6)[1]))
    agrees(exact, *sides, h)
    moved = np.einsum("nij,nj->ni", drawn.frame.T @ drawn.rotations, exact.nodes[0][:, :3])
    assert moved == pytest.approx(exact.positions[0], abs=1e-12)


@pytest.mark.parametrize("kind", ["clamp", "hand", "tiller"])
def test_grip_and_hold_that_move(kind: str):
    """Both states; the cradle of 8 mm is so short that the tiller's line of pull leaves it."""
    bow = crooked_bow(kind, 7)
    rng = np.random.default_rng(4)
    point, belly, back = 0.05 * rng.uniform(-1.0, 1.0, size=(3, 3))
    braced = brace(bow, height=0.15)
    drawn = draw(bow, braced, [0.6])[0]
    n = len(bow.chain.positions)
    rest = RestRates(
        nodes=np.zeros((1, n, 6)),
        hold_point=point[None],
        grip_belly=belly[None],
        grip_back=back[None],
    )
    still = np.zeros((1, *bow.chain.stiffness.shape))
    sections = elastic_rates(bow, braced, still), elastic_rates(bow, drawn, still)
    exact = tuple(sensitivities_along(bow, (braced, drawn), sections, rest, keep="height"))
    h, sides = 1e-4, []
    for sign in (h, -h):
        hold = replace(bow.hold, point=bow.hold.point + sign * point)
        grip = {
            "grip_belly": bow.grip_belly + sign * belly,
            "grip_back": bow.grip_back + sign * back,
        }
        other = replace(bow, hold=hold, **grip)
        start = brace(other, height=0.15)
        state = draw(other, start, [0.6])[0]
        sides.append((looked_at(other, start), looked_at(other, state)))
    (high, higher), (low, lower) = sides
    braced_names = tuple(name for name in NAMES if name != "force")
    # `own_frame` counts from the back of the grip, which moves here
    agrees(exact[0], high, low, h, braced_names)
    agrees(exact[1], higher, lower, h)


def test_wrong_shapes_are_refused():
    bow = crooked_bow("clamp", 4)
    braced = brace(bow, height=0.15)
    with pytest.raises(GeometryError, match="stiffness_rates of shape"):
        rates_of(bow, [braced, braced], np.zeros((1, 2, 2, 6, 6)))
    with pytest.raises(GeometryError, match="keep = 'tiller'"):
        rates_of(bow, [braced], np.zeros((1, *bow.chain.stiffness.shape)), keep="tiller")


def test_many_states_in_one_call():
    bow = crooked_bow("hand", 5)
    braced = brace(bow, height=0.15)
    states = draw(bow, braced, [0.4, 0.6]).states
    rates = np.stack([0.1 * bow.chain.stiffness, 0.2 * bow.chain.stiffness])
    both = rates_of(bow, [braced, *states], rates)[1:]
    for state, found in zip(states, both, strict=True):
        _, alone = rates_of(bow, [braced, state], rates)
        np.testing.assert_array_equal(found.force, alone.force)
        np.testing.assert_array_equal(found.nodes, alone.nodes)
