"""With many steps the first states of a hand-held draw were once pushed, not pulled.

Held below the arrow a bow turns in the hand as soon as it is pulled, so that its draw length,
measured along the pull, is more than the brace height and the grip: the steps had begun at the
latter.  And a bow let down further than its brace was returned with a string that is pushed.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import curve_of, drawn_bow, solve_bow, solve_elastic
from limbfe.analysis.bow.yielding import section_law
from limbfe.api import read_case
from limbfe.beam import draw, draw_on
from limbfe.case.build import build_setup
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.section.yielding.pressing import pressed_section

from ..repeated_draws import repeated_draws

CASES = Path(__file__).parents[2] / "cases"


def ash(steps):
    setup = build_setup(read_case(CASES / "ash_flatbow.toml"))
    return adjust(
        setup, analysis={"elements_per_limb": 4, "fineness": 0.3}, drawing={"steps": steps}
    )


@pytest.fixture(scope="module")
def solved():
    return solve_bow(ash(8), beyond=False)


@pytest.fixture(scope="module")
def elastic():
    return solve_elastic(ash(8))


def along_the_pull(bow, braced):
    """From the back of the grip to the braced string, on the line from the hand to the string."""
    line = braced.nocking_point - bow.hold.point
    return float((braced.nocking_point - bow.grip_back) @ line / np.linalg.norm(line))


def check_beginning(bow, braced, states):
    curve = curve_of(braced, states)
    start = along_the_pull(bow, braced)
    assert start - 0.150 - 0.030 == pytest.approx(0.0034, abs=2e-4)
    assert curve.draw_length[0] == pytest.approx(start, abs=1e-9)
    assert curve.force[0] == 0.0
    assert np.all(np.diff(curve.force) > 0.0)
    assert np.all(np.diff(curve.draw_length) > 0.0)
    assert np.all(np.diff(curve.energy) > 0.0)
    # a smooth curve that begins where the pull is nothing: its first chord is its steepest here
    slope = np.diff(curve.force) / np.diff(curve.draw_length)
    assert slope[0] == slope.max()


@pytest.mark.parametrize("steps", [8, 30, 200])
def test_pull_is_nothing_at_brace_and_rises_from_there(steps):
    setup = ash(steps)
    solved = solve_bow(setup, beyond=False)
    check_beginning(solved.model.bow, solved.braced, solved.states)
    if steps == 200:
        elastic = solve_elastic(setup)
        check_beginning(elastic.model.bow, elastic.braced, elastic.states)


def test_second_draw_begins_at_its_own_brace(solved):
    second = repeated_draws(solved, 2)[1]
    curve = curve_of(second.braced, second.states)
    start = along_the_pull(solved.model.bow, second.braced)
    assert curve.draw_length[0] == pytest.approx(start, abs=1e-9)
    assert np.all(np.diff(curve.force) > 0.0)


def test_a_curve_that_turns_back_is_refused(solved):
    with pytest.raises(ConvergenceError, match="does not move on"):
        curve_of(solved.braced, solved.states[::-1])


def test_let_down_below_brace_is_refused(solved, elastic):
    bow = elastic.model.bow
    brace = elastic.braced.draw_length
    assert draw(bow, elastic.full_draw, [brace]).force[0] == pytest.approx(0.0, abs=1e-6)
    for length in (brace - 0.001, 0.15, 0.1):
        with pytest.raises(GeometryError, match="would have to be pushed"):
            draw(bow, elastic.full_draw, [length])
        law = section_law(pressed_section(solved.section, solved.plastic[-1]))
        with pytest.raises(GeometryError, match="would have to be pushed"):
            draw_on(solved.model.bow, solved.full_draw, length, law)


def test_a_tip_has_one_twist():
    setup = build_setup(read_case(CASES / "locust_reflex.toml"))
    stave = replace(setup.stave, knots=())
    bow = drawn_bow(
        solve_elastic(
            adjust(
                setup,
                stave=stave,
                analysis={"elements_per_limb": 4, "fineness": 0.3},
                drawing={"steps": 8},
            )
        )
    )
    assert [bow.lower_tip.twist, bow.upper_tip.twist] == list(bow.tiller_drawn.tip_twist)
    assert abs(bow.upper_tip.twist) > 0.01
