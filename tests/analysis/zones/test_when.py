"""At what draw something comes of a zone: held to bows that are drawn so far and no further."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.exercise import exercise, exercised_bow, exercised_to
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import solve_bow
from limbfe.analysis.wood.known_draws import known_draws
from limbfe.analysis.wood.limb_load import limb_load, resultants_at
from limbfe.analysis.zones.verdicts import SEED, judge_one, local_problem
from limbfe.analysis.zones.when import AtDraw, Judged, OtherDraws, breaks, ceases_to_be_sound
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.failure.local import judge_zone
from limbfe.failure.problem import Place

from ...marked import marked_knot

ELM = Path(__file__).parents[3] / "cases" / "elm_longbow.toml"
THERE = Place(0.0, 0.0)


@pytest.fixture(scope="module")
def setup():
    coarse = adjust(
        build_setup(read_case(ELM)),
        analysis={"elements_per_limb": 6, "fineness": 0.5},
        drawing={"steps": 6},
    )
    return replace(coarse, stave=replace(coarse.stave, knots=(), decays=()))


def test_a_bow_exercised_to_less_is_one_whose_draw_is_that(setup):
    """And carries more there than one exercised to full draw and let down: a third at 18 in."""
    first, length = solve_bow(setup, through=(0.45,), beyond=False), 0.45
    number = int(np.argmin([abs(state.draw_length - length) for state in first.states]))
    less = exercised_to(first, number)
    whole = exercised_bow(adjust(setup, drawing={"length": length}), beyond=False)
    x = np.array([-0.5, 0.3])
    here, there = (resultants_at(one.model, limb_load(one), x) for one in (less, whole))
    assert here[:, 4] == pytest.approx(there[:, 4], rel=2e-3)
    down = exercise(first)
    k = int(np.argmin([abs(state.draw_length - length) for state in down.states]))
    assert np.all(resultants_at(down.model, limb_load(down, k), x)[:, 4] < 0.9 * here[:, 4])


class Known:
    """Five draws of a bow whose true load is `true`, where the strain says `guess`."""

    lengths = np.array([0.2, 0.3, 0.4, 0.5, 0.6])
    forces = 1e3 * (lengths - 0.2)
    full = 3

    def __init__(self, true):
        self.true, self.asked = np.array(true), []

    def load(self, number):
        self.asked.append(number)
        return self.true[number]


def other_draws(true, guess):
    known = Known(true)
    judged = Judged(load=None, problem=None, outcome=1.0)
    made = OtherDraws(known, judged, lambda load: load, lambda place: np.array(guess), SEED)
    made._at = lambda load: AtDraw(outcome=float(load), split=1.0)
    return made, known


def test_the_draws_around_an_answer_are_judged_and_it_lies_between_them():
    made, known = other_draws([0.2, 0.45, 0.7, 1.0, 1.3], [0.3, 0.5, 0.8, 1.0, 1.2])
    found = made.reached(lambda at: 0.6 / at.outcome, THERE)
    assert sorted(known.asked) == [1, 2]
    share = np.log(0.6 / 0.45) / np.log(0.7 / 0.45)
    assert found.length == pytest.approx(0.3 + 0.1 * share, abs=5e-3)
    assert found.force == pytest.approx(1e3 * (found.length - 0.2))


def test_far_beyond_nothing_is_judged_and_near_the_end_it_is():
    made, known = other_draws([0.2, 0.45, 0.7, 1.0, 1.3], [0.3, 0.5, 0.8, 1.0, 1.2])
    assert made.reached(lambda at: 3.0 / at.outcome, THERE) is None
    assert made.reached(lambda at: np.inf, THERE) is None
    assert known.asked == []
    found = made.reached(lambda at: 1.25 / at.outcome, THERE)
    assert known.asked == [4]
    assert 0.5 < found.length < 0.6


def test_what_is_reached_at_brace_has_its_draw():
    made, _ = other_draws([0.2, 0.45, 0.7, 1.0, 1.3], [0.3, 0.5, 0.8, 1.0, 1.2])
    assert made.reached(lambda at: 0.1 / at.outcome, THERE).length == 0.2


@pytest.mark.slow
def test_a_knot_breaks_and_ceases_to_be_sound_at_the_draws_that_are_named(setup):
    """Of a bow drawn and exercised to them and no further: load within 1 per cent."""
    zone = marked_knot(
        setup.stave, name="K", limb="upper", at=0.298, face="back", across=0.004, diameter=0.008,
        far_diameter=0.008, state="missing",
    )  # fmt: skip
    one = replace(setup, stave=replace(setup.stave, knots=(zone,)))
    solved = exercise(solve_bow(one))
    judged = judge_one(solved.model, limb_load(solved), known_draws(solved), zone)
    length = judged.result.draw_length_at_rupture
    assert length is not None
    assert length < one.drawing.length
    again = exercised_bow(adjust(one, drawing={"length": length}), beyond=False)
    problem, _ = local_problem(again.model, limb_load(again), zone)
    outcome = judge_zone(problem, np.random.default_rng(SEED))
    assert breaks(AtDraw(outcome=outcome, split=1.0)) == pytest.approx(1.0, abs=0.01)
    assert ceases_to_be_sound(AtDraw(outcome=outcome, split=1.0)) < 1.0


def test_a_plate_meshed_once_answers_at_every_draw_as_one_meshed_anew(setup):
    """Its belly is crushed at the last of them, so what a draw leaves of the wood must not stay."""
    zone = marked_knot(
        setup.stave, name="K", limb="upper", at=0.298, face="back", across=0.004, diameter=0.008,
        far_diameter=0.008, state="live",
    )  # fmt: skip
    solved = exercise(solve_bow(replace(setup, stave=replace(setup.stave, knots=(zone,)))))
    known, stages = known_draws(solved), {}
    for number in (known.full, known.full - 2, known.full):
        problem, _ = local_problem(solved.model, known.load(number), zone)
        tried = replace(
            problem, layers=problem.layers[:1], sections=(), rough=True, member="quick",
            element_size=4e-3,
        )  # fmt: skip
        shared, anew = judge_zone(tried, stages=stages), judge_zone(tried)
        assert len(stages) == 1
        for mode, outcome in anew.modes.items():
            assert shared.modes[mode].typical == pytest.approx(outcome.typical, rel=1e-12)
    assert problem.body.wood.softening is not None
