"""Holds, symmetry, frames, long strings, stability and bad input."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.beam import Bow, BowString, Chain, Hold, brace, draw, measure, own_frame, pull
from limbfe.errors import ConvergenceError, GeometryError, MaterialError

from ..make import bow_1800, rectangle, straight_chain


def crooked_bow(kind: str = "hand", elements: int = 14, *, mirrored: bool = False) -> Bow:
    """Uneven, coupled, twisted and sideways bent; `mirrored`: limbs swapped, left for right.

    Turning the bow by half a revolution about X swaps the limbs and left and right without
    changing physics: section frames keep x up the bow.
    """
    rng = np.random.default_rng(5)
    lower = -0.05 - np.linspace(0.80, 0.0, elements + 1)
    upper = 0.05 + np.linspace(0.0, 0.86, elements + 1)
    x = np.concatenate([lower, upper])
    m = len(x) - 1
    share = np.abs(np.linspace(-1.0, 1.0, m))[:, None] + np.zeros(2)
    stiffness = rectangle(0.034 - 0.018 * share, 0.022 - 0.009 * share, 11e9, 0.8e9)
    skewed = 0.06 * rng.uniform(-1.0, 1.0, size=(m, 2, 6, 6))
    scale = np.sqrt(np.einsum("...ii->...i", stiffness))
    stiffness += (skewed + np.swapaxes(skewed, -1, -2)) * scale[..., None] * scale[..., None, :]
    chain = straight_chain(x, stiffness)
    positions, rotations = np.array(chain.positions), np.array(chain.rotations)
    out = np.abs(x) > 0.05
    positions[out, 1] += 0.004 * np.sin(5.0 * x[out]) - 0.004 * np.sin(0.25 * np.sign(x[out]))
    positions[out, 0] -= 0.04 * (np.abs(x[out]) - 0.05) ** 2
    nock_lower, nock_upper = np.array([0.0, 0.001, 0.003]), np.array([0.0, -0.002, 0.001])
    arrow, hand = 0.02, np.array([0.012, 0.001, -0.018])
    clamped = (elements, elements + 1)
    if mirrored:
        half = np.diag([1.0, -1.0, -1.0])
        # reversing the chain turns a section about its z axis: x and y change sign
        about_z = np.diag([-1.0, -1.0, 1.0])
        positions = (positions @ half.T)[::-1]
        rotations = (half @ rotations @ about_z)[::-1]
        turn = np.kron(np.eye(2), about_z)
        # ... and strains run the other way: twist and gamma keep, ds changes sign with x
        stiffness = (turn @ stiffness @ turn.T)[::-1, ::-1]
        flip = np.kron(np.diag([-1.0, -1.0]), np.eye(3))
        stiffness = flip @ stiffness @ flip
        nock_lower, nock_upper = about_z @ nock_upper, about_z @ nock_lower
        arrow, hand = -arrow, half @ hand
    return Bow(
        chain=Chain(positions=positions, rotations=rotations, stiffness=stiffness, mass=stiffness),
        clamped=clamped,
        string=BowString(stiffness=50e3, mass=6e-3, nock_lower=nock_lower, nock_upper=nock_upper),
        hold=Hold(kind=kind, point=hand, half_length=0.004),
        grip_belly=np.array([0.012, 0.0, 0.0]),
        grip_back=np.array([-0.012, 0.0, 0.0]),
        arrow_z=arrow,
    )


@pytest.mark.parametrize("kind", ["clamp", "hand", "tiller"])
def test_swapping_limbs_and_sides_changes_nothing(kind: str):
    one, two = crooked_bow(kind), crooked_bow(kind, mirrored=True)
    a, b = (draw(bow, brace(bow, height=0.15), [0.6])[0] for bow in (one, two))
    assert b.draw_force == pytest.approx(a.draw_force, rel=1e-8)
    assert b.string_tension == pytest.approx(a.string_tension[::-1], rel=1e-8)
    half = np.array([1.0, -1.0, -1.0])
    swapped = b.positions[::-1] * half
    assert swapped == pytest.approx(a.positions, abs=1e-8)
    assert b.strains[::-1, ::-1, 4] == pytest.approx(a.strains[..., 4], abs=1e-7)


@pytest.mark.parametrize("kind", ["clamp", "hand", "tiller"])
def test_each_hold_balances_and_does_the_work(kind: str):
    bow = crooked_bow(kind)
    braced = brace(bow, height=0.15)
    x, w = np.polynomial.legendre.leggauss(10)
    # for the hand the travel and not the draw length is what the force works over
    states = draw(bow, braced, 0.42 + 0.18 * x).states
    ends = draw(bow, braced, [0.24, 0.60]).states
    draws = np.array([s.draw_length for s in states])
    travel = np.polynomial.Polynomial.fit(draws, [s.travel for s in states], 9).deriv()
    work = 0.18 * np.sum(w * [s.draw_force * travel(s.draw_length) for s in states])
    change = ends[1].strain_energy + ends[1].string_energy
    change -= ends[0].strain_energy + ends[0].string_energy
    assert work == pytest.approx(change, rel=1e-6)
    state = ends[1]
    assert state.residuals[-1] < 1e-9
    # the string's two parts carry the pull, which acts along X of the world
    low, point, high = state.string_points
    total = sum(
        t * (point - end) / np.linalg.norm(point - end)
        for t, end in zip(state.string_tension, (low, high), strict=True)
    )
    assert total == pytest.approx([state.draw_force, 0.0, 0.0], abs=1e-6)
    assert state.nocking_point[0] - state.grip_back[0] == pytest.approx(0.6, rel=1e-12)
    balance = measure(bow, state, distance=0.4).balance
    if kind == "hand":
        assert balance == pytest.approx(0.0, abs=1e-9)
    elif kind == "tiller":
        # it rocks on the edge of the cradle, 4 mm from its middle
        assert abs(balance) == pytest.approx(0.004, abs=1e-9)
    else:
        assert abs(balance) > 0.004


def test_result_does_not_depend_on_units():
    bow = bow_1800(10)
    millimetres = 1e3
    chain = bow.chain
    scale = np.array([1.0] * 3 + [millimetres] * 3)
    stiffness = np.array(chain.stiffness) * scale[:, None] * scale
    scaled = replace(
        bow,
        chain=Chain(
            positions=millimetres * np.array(chain.positions),
            rotations=chain.rotations,
            stiffness=stiffness,
            mass=chain.mass,
        ),
    )
    force = draw(bow, brace(bow, height=0.15), [0.7]).force[0]
    other = draw(scaled, brace(scaled, height=150.0), [700.0]).force[0]
    assert other == pytest.approx(force, rel=1e-7)


def test_draw_in_any_order_gives_the_same_states():
    bow = crooked_bow()
    braced = brace(bow, height=0.15)
    up = draw(bow, braced, [0.3, 0.45, 0.6])
    down = draw(bow, braced, [0.6, 0.3, 0.45])
    assert down.force[[1, 2, 0]] == pytest.approx(up.force, rel=1e-9)


def test_long_string_is_pulled_from_slack():
    bow = crooked_bow("tiller")
    state = pull(bow, 1.86, force=150.0)
    assert state.draw_force == pytest.approx(150.0, rel=1e-9)
    assert np.ptp(state.string_lengths) == 0.0
    assert not state.slack
    moved = pull(bow, 1.86, tip_movement=0.2)
    tips = own_frame(bow, moved, moved.string_points)[[0, 2], 0]
    rest = [bow.chain.positions[i] for i in (0, -1)]
    arms = [bow.string.nock_lower, bow.string.nock_upper]
    start = [
        r + bow.chain.rotations[i] @ arm for i, r, arm in zip((0, -1), rest, arms, strict=True)
    ]
    assert np.mean(tips) - np.mean([s[0] for s in start]) == pytest.approx(0.2, rel=1e-8)
    short = pull(bow, 1.66, force=150.0)
    assert short.draw_length < state.draw_length
    with pytest.raises(GeometryError, match="bracing alone moves the tips"):
        pull(bow, 1.66, tip_movement=0.02)
    with pytest.raises(GeometryError, match="either"):
        pull(bow, 1.86)


def test_string_length_and_brace_height_agree():
    bow = crooked_bow("clamp")
    high = brace(bow, height=0.16)
    again = brace(bow, length=float(high.string_lengths.sum()))
    assert again.brace_height == pytest.approx(0.16, rel=1e-8)
    assert again.string_tension == pytest.approx(high.string_tension, rel=1e-8)


def narrow_bow(width: float) -> Bow:
    """A bow as thick as it is wide or thicker: it would rather turn over than bend."""
    x = np.concatenate([-np.linspace(0.9, 0.05, 15), np.linspace(0.05, 0.9, 15)])
    stiffness = rectangle(np.full((29, 2), width), np.full((29, 2), 0.020), 10e9, 0.6e9)
    return Bow(
        chain=straight_chain(x, stiffness),
        clamped=(14, 15),
        string=BowString(stiffness=60e3, mass=6e-3, nock_lower=np.zeros(3), nock_upper=np.zeros(3)),
        hold=Hold(kind="clamp", point=np.zeros(3)),
        grip_belly=np.array([0.01, 0.0, 0.0]),
        grip_back=np.array([-0.01, 0.0, 0.0]),
        arrow_z=0.0,
    )


def test_a_limb_narrower_than_thick_kicks_over_when_braced():
    # Sideways a straight uniform limb under its string is an Euler column like in the plane, so
    # it is stable only if EI sideways exceeds T 4 L^2/pi^2, which is a little more than EI flat.
    for width, stable in ((0.0190, False), (0.0195, False), (0.0205, True), (0.030, True)):
        bow = narrow_bow(width)
        braced = brace(bow, height=0.03)
        euler = braced.string_tension[0] * 4.0 * 0.85**2 / np.pi**2
        sideways = 10e9 * 0.020 * width**3 / 12.0
        assert stable == (sideways > euler)
        assert braced.stable == stable, width
    narrow = narrow_bow(0.013)
    braced = brace(narrow, height=0.15)
    with pytest.raises(ConvergenceError, match="loses its stability") as error:
        draw(narrow, braced, [0.6])
    assert error.value.draw_length == pytest.approx(braced.draw_length)


def test_loss_of_stability_on_the_way_is_located():
    # this bow is stable drawn, where the string pulls less, and kicks over as it is let down
    bow = narrow_bow(0.0193)
    drawn = draw(bow, brace(bow, height=0.15), [0.5], unstable="follow")[0]
    assert drawn.stable
    history = draw(bow, drawn, [0.4, 0.3, 0.18], unstable="follow")
    limit = history.unstable_at
    assert limit is not None
    assert history.stable.tolist() == [True, True, False]
    assert 0.18 < limit < 0.3
    near = draw(bow, drawn, [limit + 1e-5, limit - 1e-5], unstable="follow")
    assert near.stable.tolist() == [True, False]
    with pytest.raises(ConvergenceError, match="loses its stability at") as error:
        draw(bow, drawn, [0.4, 0.3, 0.18])
    assert error.value.draw_length == pytest.approx(limit, rel=1e-9)
    assert error.value.last_state.draw_length == pytest.approx(0.3)


def test_refusals():
    bow = bow_1800(6)
    braced = brace(bow, height=0.15)
    with pytest.raises(GeometryError, match="either"):
        brace(bow)
    with pytest.raises(GeometryError, match="give more"):
        brace(bow, height=-0.01)
    with pytest.raises(GeometryError, match="already stands"):
        draw(bow, braced, [0.1])
    with pytest.raises(GeometryError, match="slack"):
        draw(bow, brace(bow, length=1.9), [0.5])
    stiff = bow_1800(6, EA=np.inf)
    # beyond the string's reach the limbs would have to stretch by a fifth
    with pytest.raises(ConvergenceError, match=r"draw to 2000 mm") as error:
        draw(stiff, brace(stiff, height=0.15), [0.5, 2.0])
    assert 0.5 < error.value.draw_length < 2.0
    assert error.value.last_state.draw_length == pytest.approx(0.5)
    assert error.value.residuals
    with pytest.raises(ConvergenceError, match="bracing to a brace height of 1500"):
        brace(bow, height=1.5)
    with pytest.raises(GeometryError, match="at least one element"):
        replace(bow, clamped=(0, 3))
    with pytest.raises(MaterialError, match="EA"):
        BowString(stiffness=0.0, mass=0.0, nock_lower=np.zeros(3), nock_upper=np.zeros(3))
    with pytest.raises(GeometryError, match="use one of"):
        Hold(kind="vice", point=np.zeros(3))
