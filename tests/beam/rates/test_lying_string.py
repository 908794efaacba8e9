"""Derivatives of a bow whose string lies on its limbs, against bows really changed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.beam import BowState, BowString, Chain, brace, draw, sensitivities_along
from limbfe.beam.bow import Bow, StringBed
from limbfe.beam.model import Bed
from limbfe.beam.rates.changes import elastic_rates, rest_rates

from ..strung.recurved import recurve

BRACE, DRAW = 0.15, 0.28


def drawn(bow: Bow) -> tuple[BowState, BowState]:
    braced = brace(bow, height=BRACE)
    return braced, draw(bow, braced, [DRAW]).states[0]


def changed(bow: Bow, stiffer: float, off: float) -> Bow:
    """The bow with so much more of its stiffness, its belly so much further off the axis."""
    chain = bow.chain
    share = np.linspace(0.5, 1.5, len(chain.length))[:, None, None, None]
    arm = np.array(bow.bed.arm)
    arm[:, 2] -= off * (arm[:, 2] < 0.0)
    string = bow.string
    return replace(
        bow,
        chain=Chain(
            positions=chain.positions,
            rotations=chain.rotations,
            stiffness=chain.stiffness * (1.0 + stiffer * share),
            mass=chain.mass,
        ),
        bed=StringBed(arm=arm, slope=bow.bed.slope),
        string=BowString(
            stiffness=string.stiffness, mass=0.0, nock_lower=arm[0], nock_upper=arm[-1]
        ),
    )


def test_stiffness_and_the_belly_that_carries_the_string():
    """Central differences with steps of 1e-4 and 1e-5 m: truncation below 1e-6 of the rates."""
    bow = recurve(8)
    states = drawn(bow)
    assert all((state.string_lies > 0.02).all() for state in states)
    n = len(bow.chain.positions)
    share = np.linspace(0.5, 1.5, n - 1)[:, None, None, None]
    stiffness = np.stack([bow.chain.stiffness * share, 0.0 * bow.chain.stiffness])
    arm = np.zeros((2, n, 3))
    arm[1, :, 2] = -1.0 * (bow.bed.arm[:, 2] < 0.0)
    # the nock itself moves with the belly too
    bed = Bed(nock=arm[:, [0, -1]], arm=arm, slope=np.zeros((2, n, 2)), lies=1)
    rest = replace(rest_rates(bow, 2), bed=bed)
    sections = [elastic_rates(bow, state, stiffness) for state in states]
    found = list(sensitivities_along(bow, states, sections, rest, keep="height"))[-1]
    for k, (h, step) in enumerate(((1e-4, (1e-4, 0.0)), (1e-5, (0.0, 1e-5)))):
        more, less = (drawn(changed(bow, *(sign * np.array(step))))[1] for sign in (1.0, -1.0))
        force = (more.draw_force - less.draw_force) / (2.0 * h)
        tension = (more.string_tension - less.string_tension) / (2.0 * h)
        assert found.force[k] == pytest.approx(force, rel=1e-5)
        assert found.string_tension[k] == pytest.approx(tension, rel=1e-5)
        lengths = (more.string_lengths - less.string_lengths) / (2.0 * h)
        assert found.string_lengths[k] == pytest.approx(lengths, rel=1e-4, abs=1e-9)
