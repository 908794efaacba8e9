"""Where the string of a recurved case lies, how hard it presses, when it lifts off."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.model import LimbModel, build_model
from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.bow.string_bed import GROOVE, string_bed
from limbfe.analysis.bow.string_lies import (
    LyingString,
    flattened,
    lying_string,
    off_the_middle,
    slip_angle,
    slip_words,
)
from limbfe.analysis.rates.stave_rates import shape_rates
from limbfe.api import read_case
from limbfe.beam import BowState, brace, draw, force_to_string, string_of
from limbfe.case.build import build_setup
from limbfe.stave.profile import axis_at, shape_at
from limbfe.stave.reshape import reshaped

CASES = Path(__file__).parents[3] / "cases"


@pytest.fixture(scope="module")
def setup() -> BowSetup:
    given = build_setup(read_case(CASES / "ash_recurve.toml"))
    return adjust(
        given,
        analysis={"elements_per_limb": 16, "fineness": 0.3},
        holding={"kind": "clamp", "arrow_at": 0.0},
    )


@pytest.fixture(scope="module")
def model(setup: BowSetup) -> LimbModel:
    return build_model(setup)


@pytest.fixture(scope="module")
def drawn(model: LimbModel) -> tuple[BowState, tuple[BowState, ...]]:
    braced = brace(model.bow, height=0.165)
    lengths = np.linspace(braced.draw_length, 0.66, 13)[1:]
    return braced, draw(model.bow, braced, lengths).states


def test_it_lies_on_both_tips_alike_and_presses_by_its_tension(model: LimbModel, drawn):
    """Pressure of a taut string without friction: tension over the belly's radius, which is the
    back's 220 mm and the limb's 11, bent open by its own moment ``e T / EI`` (under a tenth)."""
    braced, states = drawn
    lower, upper = lying_string(model, braced, states)
    # the grain runs out up the bow in one limb and down it in the other
    assert lower.at_brace == pytest.approx(upper.at_brace, rel=1e-3)
    assert upper.pressure == pytest.approx(braced.string_tension[1] / 0.231, rel=0.15)
    assert upper.leaves_at + upper.at_brace == pytest.approx(0.82, abs=6e-3)
    assert upper.aside < 1e-6
    assert slip_words((lower, upper)) == ()


def test_it_lifts_off_where_it_says(model: LimbModel, drawn):
    braced, states = drawn
    at = lying_string(model, braced, states)[1].lift_off
    before, after = draw(model.bow, braced, [at - 2e-3, at + 2e-3]).states
    assert before.string_lies[1] > 0.0 == after.string_lies[1]


def test_the_picture_follows_the_belly(model: LimbModel, drawn):
    """Every point of the line that touches lies on the belly, half the thickness off the axis."""
    braced, states = drawn
    line = string_of(model.bow, braced)
    assert np.linalg.norm(np.diff(line, axis=0), axis=1).sum() == pytest.approx(
        float(braced.string_lengths.sum() * (1.0 + braced.string_tension[0] / 38e3)), rel=1e-5
    )
    assert len(string_of(model.bow, states[-1])) == 3
    tips = line[[0, -1]]
    assert tips == pytest.approx(braced.string_points[[0, 2]], abs=1e-12)


def test_a_groove_leads_a_nock_behind_the_belly_onto_it(setup: BowSetup, model: LimbModel):
    """From the nock at mid-thickness, 1 in 6, level on the belly after 12 times its depth."""
    bed = string_bed(adjust(setup, stringing={"nock_offset": 0.0}), model.node_x)
    x, depth = model.node_x, 0.5 * 0.011
    assert bed.arm[[0, -1]] == pytest.approx(np.zeros((2, 3)), abs=1e-15)
    on = np.abs(x) < 0.82 - GROOVE * depth
    assert bed.arm[on, 2] == pytest.approx(-0.5 * shape_at(setup.stave, x[on]).thickness, rel=1e-9)
    # no steeper than the groove, the taper of the limb beside it
    assert abs(bed.slope[-1, 1]) == pytest.approx(1.0 / 6.0, abs=0.02)
    assert np.abs(axis_at(setup.stave, x)[0][:, 1]).max() < 1e-12


@pytest.mark.parametrize("case", ["ash_recurve", "yew_reflex"])
def test_a_nock_a_hair_off_the_belly_lies_as_one_on_it(case: str):
    """Two hundredths of a millimetre either way, less than a cord is thick: common sense."""
    given = build_setup(read_case(CASES / f"{case}.toml"))
    setup = adjust(given, holding={"kind": "clamp", "arrow_at": 0.0}, analysis={"fineness": 0.3})
    found = []
    for off in (0.0, 2e-5, -2e-5):
        model = build_model(adjust(setup, stringing={"nock_offset": -5.5e-3 + off}))
        braced = brace(model.bow, height=setup.stringing.brace_height)
        lies = lying_string(model, braced, ())[1]
        found.append((lies.at_brace, lies.pressure))
    assert found[1] == pytest.approx(found[0], rel=0.02)
    assert found[2] == pytest.approx(found[0], rel=0.02)


def test_its_bed_changes_by_what_a_shaving_at_the_tip_takes(setup: BowSetup):
    """A tenth of a millimetre off the tip's belly, against the rates that `shave` goes by.

    The tips are a little thinner than what is next to them: of equal neighbours the column's curve
    has a corner.
    """
    thickness = np.array(setup.stave.thickness)
    thickness[[0, -1]] = 0.0108
    stave = reshaped(setup.stave, thickness=thickness)
    tied = adjust(setup, stave=stave, stringing={"nock_offset": -0.0054})
    model = build_model(tied)
    rates = shape_rates(model, ("thickness",)).bed
    sides = []
    for more in (1e-4, -1e-4):
        other = thickness.copy()
        other[-1] += more
        changed = adjust(tied, stave=reshaped(stave, thickness=other))
        sides.append(string_bed(changed, model.node_x))
    arm, slope = ((getattr(sides[0], name) - getattr(sides[1], name)) / 2e-4
                  for name in ("arm", "slope"))  # fmt: skip
    assert rates.arm[-1] == pytest.approx(arm, abs=0.02)
    # per metre: a taper that fades out over 45 mm is 22, a groove of one element as much
    assert rates.slope[-1] == pytest.approx(slope, abs=0.5)


def test_tips_must_be_pulled_to_string_it(model: LimbModel, drawn):
    """Less than the braced string's pull square to the bow at that shape, more than none; a
    longer string takes less."""
    braced, _ = drawn
    length = float(braced.string_lengths.sum())
    force = force_to_string(model.bow, length)
    assert 0.0 < force_to_string(model.bow, length + 0.01) < force
    assert force_to_string(model.bow, length + 1.0) == 0.0


def test_a_string_that_points_aside_is_said_to_slip_off():
    one = LyingString(
        at_brace=0.06, leaves_at=0.75, lift_off=0.4, pressure=1e3, aside=0.1, slips_at=0.15
    )
    assert "comes near slipping off the side of the lower limb" in str(slip_words((one, None))[0])
    gone = replace(one, aside=0.2)
    assert "slips off the side of the upper limb" in str(slip_words((None, gone))[0])


def test_a_tilted_belly_leads_the_string_aside_by_its_geodesic_curvature():
    """An arc on a cylinder whose normal is tilted out of the arc's plane (closed form, differential
    geometry): laid flat it is an arc of radius over the sine of the tilt."""
    radius, tilt, length = 0.22, 0.25, 0.06
    turn = np.linspace(0.0, length / radius, 400)
    line = radius * np.stack([1.0 - np.cos(turn), 0.0 * turn, -np.sin(turn)], axis=1)
    inwards = np.stack([np.cos(turn), 0.0 * turn, np.sin(turn)], axis=1)
    sides = np.cos(tilt) * np.array([0.0, 1.0, 0.0]) + np.sin(tilt) * inwards
    way = flattened(line, sides)
    flat = radius / np.sin(tilt)
    # of 400 chords, half of one at either end not turned
    assert way[0, 1] == pytest.approx(flat * (1.0 - np.cos(length / flat)), rel=5e-3)
    # one that runs straight on from there lies off the middle line by as much at the nock
    off = off_the_middle(way - [[0.0, way[0, 1]]], 1e6, 0.0)
    assert off[0] == pytest.approx(0.0, abs=1e-9)
    assert abs(off[-1]) == pytest.approx(way[0, 1], rel=1e-3)


def test_on_a_straight_middle_line_it_slides_off_at_the_slip_angle():
    """By similar triangles: the edge is met where the distance from the nock over half the width is
    most, at the angle that `slip_angle` has."""
    along, half, free = np.linspace(0.0, 0.08, 9), np.linspace(0.006, 0.016, 9), 0.7
    way = np.stack([along - along[-1], np.zeros(9)], axis=1)
    off = off_the_middle(way, free, slip_angle(along, half, free))
    assert (np.abs(off)[1:] / half[1:]).max() == pytest.approx(1.0, rel=0.01)
