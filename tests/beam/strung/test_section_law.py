"""Sections with a nonlinear law."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.beam import (
    brace,
    brace_on,
    draw,
    draw_on,
    follow,
    unstrung_shape,
)
from limbfe.errors import ConvergenceError

from ..make import bow_1800
from .test_holds import crooked_bow


def test_elastic_law_gives_the_elastic_bow():
    bow = crooked_bow("hand", 8)
    stiffness = np.array(bow.chain.stiffness)
    braced = brace(bow, height=0.15)
    elastic = draw(bow, braced, [0.6])[0]
    state = draw_on(
        bow, braced, 0.6, lambda e: (np.einsum("mgij,mgj->mgi", stiffness, e), stiffness)
    )
    assert state.draw_force == pytest.approx(elastic.draw_force, rel=1e-8)
    assert state.strains == pytest.approx(elastic.strains, abs=1e-8)
    assert state.stable


def softening_law(bow):
    """Moments that follow a hyperbolic tangent of the curvature."""
    stiffness = np.array(bow.chain.stiffness)
    bend = stiffness[..., 4, 4]
    limit = 2.5

    def law(strains: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        forces = np.einsum("mgij,mgj->mgi", stiffness, strains)
        tangent = stiffness.copy()
        forces[..., 4] = bend * limit * np.tanh(strains[..., 4] / limit)
        tangent[..., 4, 4] = bend / np.cosh(np.clip(strains[..., 4] / limit, -20.0, 20.0)) ** 2
        return forces, tangent

    return law


def test_softening_law_is_met_at_every_section_with_quadratic_convergence():
    bow = bow_1800(12, shear=True)
    law = softening_law(bow)
    elastic = brace(bow, height=0.15)
    braced = brace_on(bow, elastic, law, height=0.15)
    assert braced.string_tension[0] < elastic.string_tension[0]
    state = draw_on(bow, braced, 0.6, law)
    assert state.draw_force < draw(bow, elastic, [0.6]).force[0]
    assert law(state.strains)[0] == pytest.approx(state.resultants, rel=1e-12)
    # the moment in each limb is the tension's lever: statics, whatever the law
    _, point, high = state.string_points
    along = (point - high) / np.linalg.norm(point - high)
    # (taken at the chord's middle, which lies 2 mm off the arc)
    middle = 20
    place = 0.5 * (state.positions[middle] + state.positions[middle + 1])
    moment = np.cross(high - place, along * state.string_tension[1])[1]
    assert state.resultants[middle, :, 4].mean() == pytest.approx(abs(moment), rel=3e-3)
    residuals = np.log(state.residuals)
    assert residuals[-1] < 1.6 * residuals[-2]
    with pytest.raises(ConvergenceError, match="no equilibrium was found"):
        draw_on(bow, braced, 3.0, law)


def test_a_state_guessed_from_those_before_is_the_one_found_without():
    """Uneven steps, out and back, one of them too far to be guessed; less work where it is."""
    bow = crooked_bow("hand", 8)
    law = softening_law(bow)
    braced = brace_on(bow, brace(bow, height=0.15), law, height=0.15)
    lengths = [0.2, 0.24, 0.28, 0.33, 0.37, 0.6, 0.55, 0.5, 0.55]
    followed = follow(bow, braced, lengths, law)
    assert followed.failure is None
    before = braced
    for length, state in zip(lengths, followed.states, strict=True):
        alone = draw_on(bow, before, length, law)
        assert state.draw_length == pytest.approx(length, abs=1e-9)
        assert state.draw_force == pytest.approx(alone.draw_force, rel=1e-8)
        assert state.strains == pytest.approx(alone.strains, abs=1e-8)
        assert len(state.residuals) <= len(alone.residuals)
        before = state
    third, fourth = followed.states[2:4]
    again = draw_on(bow, third, 0.33, law, behind=followed.states[:2])
    assert len(again.residuals) < len(draw_on(bow, third, 0.33, law).residuals)
    assert again.draw_force == pytest.approx(fourth.draw_force, rel=1e-8)


def test_a_draw_ends_where_there_is_no_equilibrium_and_keeps_its_states():
    bow = bow_1800(8)
    law = softening_law(bow)
    braced = brace_on(bow, brace(bow, height=0.15), law, height=0.15)
    seen = []

    def settled(strains: np.ndarray):
        seen.append(strains)
        return law

    followed = follow(bow, braced, [0.3, 0.45, 3.0], law, settled=settled)
    assert [state.strains[3, 0, 4] for state in followed.states] == [s[3, 0, 4] for s in seen]
    assert isinstance(followed.failure, ConvergenceError)
    assert followed.failure.last_state is followed.states[-1]
    assert 0.45 <= followed.failure.draw_length < 3.0
    down = follow(bow, followed.states[-1], [0.3, 0.16, 0.14, 0.12], law, to_rest=True)
    assert down.states[-1].draw_force <= 0.0
    assert all(state.draw_force > 0.0 for state in down.states[:-1])


def test_set_left_in_the_sections_shows_in_the_unstrung_bow():
    bow = bow_1800(20)
    strains = np.zeros((41, 2, 6))
    strains[:20, :, 4] = strains[21:, :, 4] = 0.1
    positions, _ = unstrung_shape(bow, strains)
    # an arc of radius 10 m over 0.85 m: drop 10 (1 - cos 0.085)
    assert positions[[0, -1], 0] == pytest.approx(10.0 * (1.0 - np.cos(0.085)), rel=1e-9)
