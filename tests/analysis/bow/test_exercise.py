"""The bow once exercised, its set in two parts, and what the wood loses."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow import exercise as module
from limbfe.analysis.bow.exercise import exercise
from limbfe.analysis.bow.kept import crushing_spread, kept_set, lost_of, told_draw
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import curve_of, set_at_tips, solve_bow
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.errors import ConvergenceError
from limbfe.wood.creep import REST, creep_factor, left_of_creep
from limbfe.wood.source import Flag

CASES = Path(__file__).parents[3] / "cases"


def small(**drawing):
    setup = build_setup(read_case(CASES / "ash_flatbow.toml"))
    return adjust(
        setup,
        analysis={"elements_per_limb": 8, "fineness": 0.5},
        drawing={"steps": 12, **drawing},
    )


@pytest.fixture(scope="module")
def first():
    return solve_bow(small())


@pytest.fixture(scope="module")
def bow(first):
    return exercise(first)


def test_strung_to_the_same_height_and_drawn_to_the_same_length(first, bow):
    assert bow.braced.brace_height == pytest.approx(first.braced.brace_height, abs=1e-7)
    assert bow.full_draw.draw_length == pytest.approx(first.full_draw.draw_length, abs=1e-9)
    assert bow.first is first
    assert exercise(bow) is bow


def test_it_has_shaken_down(bow):
    """The last draw crushes less than a thousandth of its work more, and adds no set."""
    work = float(curve_of(bow.braced, bow.states).energy[-1])
    heat = work * 0.016 * creep_factor(bow.model.setup.stave.heartwood.moisture)
    assert lost_of(bow, work) == pytest.approx(heat, abs=1e-3 * work)
    crushed = bow.plastic[-1] - bow.plastic[0]
    assert crushed.max() < 0.02 * bow.plastic[-1].max()


def test_softer_early_and_as_strong_at_full_draw(first, bow):
    """It is the set that is missing early in the draw; at full draw the belly is where it was."""
    old, new = (curve_of(one.braced, one.states) for one in (first, bow))
    early = 0.45
    force = [float(np.interp(early, c.draw_length, c.force)) for c in (old, new)]
    assert force[1] < 0.95 * force[0]
    assert new.force[-1] == pytest.approx(old.force[-1], rel=0.03)


def test_a_bow_that_cannot_be_strung_again_says_so(first, monkeypatch):
    def fails(*_):
        raise ConvergenceError("no equilibrium was found")

    monkeypatch.setattr(module, "_strung_again", fails)
    bow = exercise(first)
    assert bow.states is first.states
    told = told_draw(bow)
    assert told.cautions[0].startswith("the bow cannot be exercised")


def test_set_at_once_is_more_than_after_rest_and_more_than_crushing(bow):
    kept = kept_set(bow)
    crushing = set_at_tips(bow, bow.residual)
    assert np.all(kept.at_once > kept.rested)
    assert np.all(kept.rested > crushing)
    # of the crushing's own size: creep of an afternoon adds a few millimetres
    assert np.all(kept.at_once - crushing < 0.02)
    assert kept.low < kept.mean < kept.high


def test_a_bow_strung_for_a_week_keeps_more(bow):
    week = adjust(bow.model.setup, stringing={"strung": 7 * 86400.0})
    model = replace(bow.model, stations=replace(bow.model.stations, setup=week))
    longer = replace(bow, model=model)
    assert kept_set(longer, bounds=False).mean > kept_set(bow, bounds=False).mean + 1e-3


def test_spread_is_less_where_the_wood_was_measured():
    """Ratio of the two scatters by hand: 0.18^2 + 0.22^2 - 2 x 0.6 x 0.18 x 0.22, and the law's."""
    table = small().stave.heartwood
    assert table.sources["E_L"].flag is Flag.GIVEN
    cov = table.strength.cov["compression_strength"]
    assert crushing_spread(table) == pytest.approx(np.hypot(0.8 * cov, 0.08))


def test_creep_by_hand():
    """Two hours under load, a night off: of 0.056 (1 - 1/e) a half stays, and 1/2 exp(-6) of it."""
    left = left_of_creep(7200.0, REST)
    slow = 0.056 * (1 - np.exp(-1)) * (0.5 + 0.5 * np.exp(-6))
    slow += 0.107 * (1 - np.exp(-0.1)) * (0.5 + 0.5 * np.exp(-0.6))
    slow += 0.127 * (1 - np.exp(-0.01)) * (0.5 + 0.5 * np.exp(-0.06))
    slow += 0.152 * (1 - np.exp(-0.001)) * (0.5 + 0.5 * np.exp(-0.006))
    assert left.compression == pytest.approx(slow, rel=1e-6)
    assert left.tension < 0.2 * left.compression
