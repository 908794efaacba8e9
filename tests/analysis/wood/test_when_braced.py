"""Whether a braced bow breaks at a knot is judged as an assessment judges it, never otherwise."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.bow.solve import SolvedBow, solve_bow
from limbfe.analysis.wood import when_braced
from limbfe.analysis.wood.limb_load import LimbLoad, limb_load
from limbfe.analysis.wood.stress import clear_stations
from limbfe.analysis.wood.when_braced import counts_at_knots, look_at_zones, past_strength
from limbfe.analysis.zones.own_sections import own_sections
from limbfe.analysis.zones.surroundings import surroundings
from limbfe.analysis.zones.verdicts import local_problem
from limbfe.api import pull, read_case, string_on
from limbfe.case.build import build_setup
from limbfe.failure.local import judge_zone
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot

CASES = Path(__file__).parents[3] / "cases"


@pytest.fixture(scope="module")
def setup() -> BowSetup:
    """The elm longbow with a large knot on its back and no rot."""
    given = build_setup(read_case(CASES / "elm_longbow.toml"))
    knot = replace(given.stave.knots[0], radius=0.011, far_radius=0.008)
    stave = replace(given.stave, knots=(knot,), decays=())
    coarse = {"elements_per_limb": 12, "fineness": 0.3}
    return adjust(replace(given, stave=stave), analysis=coarse, drawing={"steps": 6})


@pytest.fixture(scope="module")
def solved(setup: BowSetup) -> SolvedBow:
    return solve_bow(setup, beyond=False)


@pytest.fixture(scope="module")
def load(solved: SolvedBow) -> LimbLoad:
    return limb_load(solved)


def _at_knot(solved: SolvedBow, load: LimbLoad) -> float:
    """Return the strength used in tension that counts at the knot's sections."""
    stations, skin = solved.model.stations, load.skin
    knot = ~clear_stations(stations)
    return float((skin.used.tension * counts_at_knots(stations, skin.size)[:, None])[knot].max())


def test_at_a_knot_counts_what_counts_in_its_verdict(solved: SolvedBow, load: LimbLoad) -> None:
    (knot,) = solved.model.setup.stave.knots
    x, reach = knot.extent
    around = surroundings(solved.model, load, x, reach)
    fibre = next(
        one for one in own_sections(solved.model, load, around, knot) if one.mode == "fibre"
    )
    counts = _at_knot(solved, load)
    assert load.skin.size > 1.0  # else nothing is told apart here
    assert counts == pytest.approx(fibre.used, rel=1e-12)
    whole = float(load.skin.used.tension[~clear_stations(solved.model.stations)].max())
    assert counts < 0.95 * whole


def test_no_knot_is_said_to_break_that_an_assessment_calls_whole(
    solved: SolvedBow, load: LimbLoad
) -> None:
    (knot,) = solved.model.setup.stave.knots
    problem, _ = local_problem(solved.model, load, knot)
    assert problem is not None
    assert judge_zone(problem).modes["fibre"].typical >= _at_knot(solved, load)


def test_clear_wood_counts_in_full(solved: SolvedBow, load: LimbLoad) -> None:
    stations = solved.model.stations
    counts = counts_at_knots(stations, load.skin.size)
    assert np.all(counts[clear_stations(stations)] == 1.0)
    assert np.all(counts[~clear_stations(stations)] < 1.0)


def test_a_section_past_its_strength_is_still_told(
    setup: BowSetup, solved: SolvedBow, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = solved.first_pull

    def said() -> tuple[str, ...]:
        words = past_strength(first.model, first.section, first.braced, first.plastic[0])
        return tuple(map(str, words))

    assert said() == ()
    worked = when_braced.worked_wood

    def weaker(*given):
        skin, inside = worked(*given)
        used = np.where(clear_stations(first.model.stations)[:, None], 0.0, skin.used.tension)
        share = 1.01 / (used * counts_at_knots(first.model.stations, skin.size)[:, None]).max()
        skin = replace(skin, used=replace(skin.used, tension=share * used))
        return skin, inside

    monkeypatch.setattr(when_braced, "worked_wood", weaker)
    (words,) = said()
    assert "already breaks" in words
    assert "101% of its tension strength" in words


def test_every_zone_is_sent_to_assess_by_name(setup: BowSetup) -> None:
    (words,) = look_at_zones(setup)
    assert str(words).startswith('of knot "A" only')
    assert "assess judges every knot and patch" in str(words)
    pulled = pull(setup, "1.95 m", force="10 lbf")
    assert pulled.when_braced == ()
    assert words in pulled.cautions
    assert words in string_on(setup).cautions


def test_rot_is_sent_to_assess_without_a_knot_and_beside_others(setup: BowSetup) -> None:
    rot = build_setup(read_case(CASES / "elm_longbow.toml")).stave.decays
    (knot,) = setup.stave.knots
    other = replace(knot, name="C", x=knot.x + 0.1)

    def said(knots: tuple[Knot, ...], decays: tuple[Decay, ...]) -> tuple[str, ...]:
        stave = replace(setup.stave, knots=knots, decays=decays)
        return tuple(map(str, look_at_zones(replace(setup, stave=stave))))

    assert said((), ()) == ()
    (words,) = said((), rot)
    assert words.startswith('of decay "B" only')
    (words,) = said((knot, other), rot)
    assert words.startswith('of knot "A", knot "C" and decay "B" only')
