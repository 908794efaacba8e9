"""How far a bow can be drawn, against bows drawn afresh to the lengths that were named."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import limbfe.beam.bow
from limbfe.analysis import assess
from limbfe.analysis.assess import assess_solved
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import SolvedBow, solve_bow
from limbfe.analysis.wood.draw_limits import DrawLimits, breaking_draw, draw_limits
from limbfe.analysis.wood.hot_spots import locate_hot_spots
from limbfe.analysis.wood.limit_search import ACCURACY
from limbfe.analysis.wood.stretched import worked_wood
from limbfe.api import read_case
from limbfe.beam import draw
from limbfe.case.build import build_setup
from limbfe.errors import ConvergenceError
from limbfe.stave.stave import with_columns
from limbfe.wood.bar import WRINKLES
from limbfe.wood.belly import LEFT_AT_LIMIT

CASES = Path(__file__).parents[3] / "cases"
UNBREAKABLE = dict.fromkeys(
    (
        "compression_proportional_limit",
        "compression_plateau",
        "compression",
        "tension",
        "shear",
        "tension_across",
        "compression_across",
    ),
    5e9,
)


@pytest.fixture(scope="module")
def setup():
    """Uneven limbs, spiral grain, sapwood, a back that breaks early; few elements."""
    given = build_setup(read_case(CASES / "locust_reflex.toml"))
    uneven = 1.0 + 0.04 * np.linspace(-1.0, 1.0, len(given.stave.x)) ** 3
    stave = replace(given.stave, knots=(), decays=(), thickness=given.stave.thickness * uneven)
    coarse = adjust(
        given, stave=stave, drawing={"steps": 4}, analysis={"elements_per_limb": 6, "fineness": 0.3}
    )
    return with_wood(coarse, tension=190e6)


@pytest.fixture(scope="module")
def limits(setup) -> DrawLimits:
    return draw_limits(solve_bow(setup))


def with_wood(setup, **strengths):
    """The bow with one wood of other strengths (Pa)."""
    heart = setup.stave.heartwood
    wood = replace(heart, strength=replace(heart.strength, **strengths))
    return replace(setup, stave=replace(setup.stave, heartwood=wood, sapwood_wood=wood))


def worst_used(solved: SolvedBow) -> dict[str, float]:
    strains = solved.full_draw.strains.reshape(-1, 6)
    skin, inside = worked_wood(solved.model.stations, solved.section, strains, solved.plastic[-1])
    used: dict[str, float] = {}
    for place in locate_hot_spots(solved.model.stations, skin, inside):
        used.setdefault(place.mode, place.used)
    return used


def test_drawn_afresh_the_strength_is_just_used_up(setup, limits):
    """In other steps than the search took, through no state it knew.

    Fibres that let go keep what the last step crushed, so the four steps of the fixture would
    leave 1.4e-4, fifteen leave 1.2e-5.
    """
    assert {limit.kind for limit in limits.failures} >= {"compression", "tension"}
    for limit in limits.failures:
        if limit.kind in ("compression", "tension"):
            solved = solve_bow(
                adjust(setup, drawing={"length": limit.draw_length, "steps": 15}), beyond=False
            )
            reached = WRINKLES if limit.kind == "compression" else 1.0
            assert worst_used(solved)[limit.kind] == pytest.approx(reached, abs=1e-4)
            assert solved.full_draw.draw_force == pytest.approx(limit.force, rel=1e-5)
    assert limits.breaks is not None
    assert limits.end == "break"
    assert limits.end_at == limits.breaks.draw_length


def test_yield_before_and_after(setup):
    """Just before the limit next to nothing is left; well after, points inside are crushed too."""
    strong = with_wood(
        setup,
        compression_proportional_limit=110e6,
        compression=160e6,
        compression_plateau=150e6,
        tension=250e6,
    )
    limits = draw_limits(solve_bow(strong))
    yields = limits.belly_yields
    assert yields is not None
    assert not yields.when_braced
    assert yields.spot.face == "belly"
    at = yields.draw_length
    before, after = (
        solve_bow(adjust(strong, drawing={"length": d}), beyond=False)
        for d in (at - 1e-3, 1.3 * at)
    )
    assert before.plastic[-1].max() < LEFT_AT_LIMIT
    assert after.plastic[-1].max() > LEFT_AT_LIMIT


def test_unbreakable_wood_is_drawn_to_where_the_bow_gives_way(setup, monkeypatch):
    """Crooked limbs as wide as thick lean over until there is no way on: so the elastic solver too.

    That solver takes other steps, with a predictor, and no section law.  The string may pass
    through the limbs here: what it touches is judged in the bow's plane, out of which these limbs
    lean so far that the two solvers end 1 % apart (1.487 and 1.499 m, 1.4997 both without).
    """
    bed = limbfe.beam.bow._bed
    monkeypatch.setattr(limbfe.beam.bow, "_bed", lambda bow: bed(bow)._replace(lies=0))
    narrow = with_columns(setup.stave, width=0.5 * setup.stave.width, crown=np.inf)
    strong = with_wood(
        adjust(setup, stave=narrow, drawing={"length": 0.5}),
        **UNBREAKABLE,
    )
    solved = solve_bow(strong, beyond=False)
    limits = draw_limits(solved)
    assert limits.failures == ()
    assert limits.belly_yields is None
    assert limits.breaks is None
    assert limits.end == "equilibrium"
    with pytest.raises(ConvergenceError) as error:
        draw(solved.model.bow, solved.braced, np.arange(0.5, 1.8, 0.05))
    assert limits.end_at == pytest.approx(error.value.draw_length, abs=2.0 * ACCURACY)


def test_a_narrow_flat_limb_ends_by_losing_its_stability():
    """A bow that lies in one plane has no reason to lean until it kicks over: a bifurcation.

    The elastic solver bisects between its own states, on its own count of negative pivots.
    """
    given = build_setup(read_case(CASES / "ash_flatbow.toml"))
    wood = given.stave.heartwood
    narrow = replace(
        given.stave,
        width=0.4 * given.stave.width,
        thickness=1.2 * given.stave.thickness,
        outline=replace(given.stave.outline, belly="flat", belly_corner=0.0),
        heartwood=replace(wood, strength=replace(wood.strength, **UNBREAKABLE)),
    )
    coarse = {"elements_per_limb": 6, "fineness": 0.3}
    solved = solve_bow(
        adjust(given, stave=narrow, drawing={"length": 0.5, "steps": 4}, analysis=coarse),
        beyond=False,
    )
    limits = draw_limits(solved)
    assert limits.end == "stability"
    assert limits.failures == ()
    with pytest.raises(ConvergenceError, match="loses its stability") as error:
        draw(solved.model.bow, solved.braced, [0.5, 0.55])
    assert limits.end_at == pytest.approx(error.value.draw_length, abs=2.0 * ACCURACY)
    assert limits.end_at > 0.5


def test_a_search_that_fails_is_a_caution_and_the_rest_is_judged(setup, monkeypatch):
    def fails(solved):
        raise ConvergenceError("no equilibrium was found")

    monkeypatch.setattr(assess, "breaking_draw", fails)
    found = assess_solved(solve_bow(setup, beyond=False))
    assert found.clear_limb is None
    assert found.drawn.cautions[0].endswith(
        "could be drawn was not found: no equilibrium was found"
    )
    assert found.hot_spots
    assert found.to_dict()["clear_limb"] is None


def test_breaking_draw_is_the_first_lasting_failure_of_the_list(setup, limits):
    breaking = breaking_draw(solve_bow(setup))
    assert breaking.breaks is not None
    assert breaking.breaks.draw_length == pytest.approx(limits.breaks.draw_length, abs=2e-5)
    assert (breaking.end, breaking.breaks.kind) == (limits.end, limits.breaks.kind)
    told = breaking.to_dict()
    assert told["breaking_draw_length_mm"] > 1e3 * setup.drawing.length
    assert (told["mode"], told["face"]) == ("tension", "back")
