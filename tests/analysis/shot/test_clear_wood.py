"""Clear wood in a shot: no milder than in the draw, no milder than in any instant of the shot."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import solve_elastic
from limbfe.analysis.shot.cautions import clear_words
from limbfe.analysis.shot.clear_wood import ClearWood, Worst, clear_wood
from limbfe.analysis.shot.results import Shots
from limbfe.analysis.shot.strains import shot_load
from limbfe.analysis.wood.hot_spots import HotSpot, locate_hot_spots
from limbfe.analysis.wood.stretched import worked_wood
from limbfe.api import read_case
from limbfe.beam.shot.setup import Gear
from limbfe.beam.shot.shoot import shoot_from
from limbfe.case.build import build_setup
from limbfe.failure.clear_chance import clear_chance
from limbfe.failure.criteria import MODES
from limbfe.units import METRIC, say

ASH = Path(__file__).parents[3] / "cases" / "ash_flatbow.toml"


@pytest.fixture(scope="module")
def setup():
    coarse = {"elements_per_limb": 6, "fineness": 0.5}
    return adjust(build_setup(read_case(ASH)), analysis=coarse, drawing={"steps": 4})


@pytest.fixture(scope="module")
def elastic(setup):
    return solve_elastic(setup)


@pytest.fixture(scope="module")
def exercised(setup):
    return exercised_bow(setup, beyond=False)


def bent(solved, factors, left=None):
    """A shot whose elements carry so many times what they carry at full draw, in turn."""
    chain = solved.model.bow.chain
    mean = np.linalg.solve(chain.transport[:, 0], solved.full_draw.resultants[:, 0, :, None])
    strain = np.linalg.solve(chain.element_stiffness, mean)[..., 0]
    twist = np.array(factors)[:, None, None] * (strain * chain.length[:, None])
    none = np.zeros((len(factors), len(chain.length), 0, 6))
    return SimpleNamespace(
        record=SimpleNamespace(twist=twist, delayed=none),
        model=SimpleNamespace(stiffness=np.array(chain.element_stiffness), shares=np.zeros(0)),
        time=0.01 * np.arange(len(factors)), left=left, comes_down=None,
    )  # fmt: skip


def test_tension_has_a_chance_and_nothing_else(elastic):
    found = clear_wood(elastic, bent(elastic, [1.0, 1.1, 0.5, 1.3], left=1))
    chances = [part["tension"].chance for part in (found.drawn, found.during, found.after)]
    assert chances == sorted(chances)
    wood = elastic.model.setup.stave.heartwood.strength.cov
    tension = found.after["tension"]
    assert tension.chance == pytest.approx(
        clear_chance(tension.spot.strength_used, wood["E_L"], wood["tension_strength"])
    )
    assert tension.to_dict()["failure_probability"] == tension.chance
    assert "failure_probability" not in found.after["shear"].to_dict()


def used(found):
    return {mode: one.spot.strength_used for mode, one in found.items()}


def test_a_bow_that_does_not_move_is_as_hard_worked_as_drawn(elastic):
    found = clear_wood(elastic, bent(elastic, [1.0, 1.0]))
    assert used(found.during) == pytest.approx(used(found.drawn), rel=1e-9)
    assert not found.after


def test_after_the_arrow_counts_apart_and_goes_with_the_load(elastic):
    found = clear_wood(elastic, bent(elastic, [1.0, 1.1, 0.5, 1.3, 0.2], left=2))
    drawn = used(found.drawn)
    assert found.drawn["tension"].spot.face == "back"
    # elastic wood under so many times the load
    for part, factor, time in ((found.during, 1.1, 0.01), (found.after, 1.3, 0.03)):
        for mode in ("tension", "shear"):
            assert used(part)[mode] == pytest.approx(factor * drawn[mode], rel=1e-6)
            assert part[mode].time == pytest.approx(time)
        # a bar's nominal stress grows less than its shortening
        assert drawn["compression"] < used(part)["compression"] < factor * drawn["compression"]


def test_limbs_turned_back_pull_the_belly(elastic):
    found = clear_wood(elastic, bent(elastic, [1.0, 0.0, -1.5], left=1)).after
    load = shot_load(elastic, bent(elastic, [1.0, 0.0, -1.5]), 2)
    spot = found["tension"].spot
    assert spot.face == "belly"
    assert found["tension"].time == pytest.approx(0.02)
    assert spot.strength_used == pytest.approx(load.skin.used.tension.max(), rel=1e-6)
    # the back is pressed as far as it was stretched, times the factor
    drawn = clear_wood(elastic, bent(elastic, [1.0])).drawn["tension"].spot
    assert found["compression"].spot.face == "back"
    assert found["compression"].spot.strain == pytest.approx(-1.5 * drawn.strain, rel=0.02)


@pytest.mark.parametrize("arrow", [0.0, 0.02])
def test_no_instant_of_a_shot_works_clear_wood_harder_than_is_told(exercised, arrow):
    shot = shoot_from(exercised.model.bow, exercised.full_draw, arrow, Gear(), step=1e-4)
    found, stations = clear_wood(exercised, shot), exercised.model.stations
    told = {mode: found.worst(mode).spot.strength_used for mode in MODES}
    hardest = dict.fromkeys(MODES, 0.0)
    for step in range(0, len(shot.time), 7):
        load = shot_load(exercised, shot, step)
        plain = worked_wood(stations, exercised.section, load.strains, exercised.plastic[-1])
        for place in locate_hot_spots(stations, *plain):
            hardest[place.mode] = max(hardest[place.mode], place.used)
        for place in locate_hot_spots(stations, load.skin, load.inside):
            if place.mode == "tension":
                hardest["tension"] = max(hardest["tension"], place.used)
    for mode in MODES:
        # seldom looked at, instants miss some of it; whole limbs count at the worst of each piece
        assert 0.8 * told[mode] < hardest[mode] < told[mode] * (1.0 + 1e-3)
    assert told["tension"] >= found.drawn["tension"].spot.strength_used


def wood(drawn: float, after: float, mode: str = "tension", *, rough: bool = False) -> ClearWood:
    def one(strength: float, time: float) -> dict[str, Worst]:
        spot = HotSpot(
            limb="upper", at=0.4, across=0.0, depth=0.0, face="back", stress=1e8, strain=1e-2,
            mode=mode, strength_used=strength,
        )  # fmt: skip
        return {mode: Worst(spot=spot, time=time, rough=rough)}

    return ClearWood(drawn=one(drawn, 0.0), during=one(drawn, 0.0), after=one(after, 0.031))


@pytest.mark.parametrize(
    ("drawn", "after", "mode", "said"),
    [
        (0.60, 0.62, "tension", []),
        (0.60, 0.70, "tension", [(False, "31 ms after the release")]),
        (0.60, 1.01, "tension", [(True, "it is expected to BREAK; at full draw 60% at most")]),
        (0.98, 1.01, "tension", [(True, "with an arrow of 30.0 g")]),
        (1.02, 1.03, "tension", [(True, "at full draw clear wood")]),
        (0.10, 0.40, "shear", []),
        (0.10, 0.60, "shear", [(False, "shear strength")]),
        (0.84, 0.86, "compression", [(False, "frets) may show")]),
        (0.90, 0.91, "compression", [(False, "at full draw clear wood")]),
        (0.90, 1.10, "compression", [(False, "at full draw"), (True, "frets) are likely")]),
    ],
)
def test_what_a_shot_does_to_clear_wood_is_told_where_it_is_more_or_too_much(
    drawn, after, mode, said
):
    found = list(clear_words(wood(drawn, after, mode)))
    assert [one.breaks for one in found] == [breaks for breaks, _ in said]
    for one, (_, part) in zip(found, said, strict=True):
        assert part in say(one.words(0.03), METRIC)


def test_what_is_rough_is_told_so():
    (found,) = clear_words(wood(0.5, 0.7, rough=True))
    words = say(found.words(0.0), METRIC)
    assert words.startswith("with no arrow, 31 ms")
    assert "roughly" in words


def test_of_several_arrows_the_worst_is_told_and_the_others_counted(exercised):
    def shot(arrow, after):
        return SimpleNamespace(
            arrow=arrow, shot=SimpleNamespace(comes_down=None), tension_max=0.0,
            tension_max_after=0.0, clear=wood(0.5, after),
        )  # fmt: skip

    told = Shots(
        solved=exercised, work=1.0, loss_factor=0.0, modes=None,
        shots=(shot(0.02, 0.7), shot(0.03, 0.6), shot(0.04, 0.55)), dry=shot(0.0, 0.9),
        reversals=(), when_braced=(), costs=None, reshaped=(),
    )  # fmt: skip
    words = [say(one, METRIC) for one in told.cautions]
    (flown,) = [one for one in words if "of its tension strength" in one and "no arrow" not in one]
    assert flown.startswith("with an arrow of 20.0 g (and 2 more of these), 31 ms")
    assert "70% of its tension strength" in flown
    (dry,) = [one for one in words if one.startswith("with no arrow")]
    assert "90% of its tension strength" in dry
    light = [one for one in words if "6 grains a pound" in one]
    assert all("20.0 g" in one for one in light)


def test_wood_that_breaks_in_a_shot_stands_before_everything_and_a_caution_after(exercised):
    shot = shoot_from(exercised.model.bow, exercised.full_draw, 0.03, Gear(), step=1e-4)
    shots = [
        SimpleNamespace(
            arrow=0.03, shot=shot, tension_max=0.0, tension_max_after=0.0, clear=wood(0.6, after)
        )
        for after in (0.7, 1.2)
    ]
    told = Shots(
        solved=exercised, work=1.0, loss_factor=0.0, modes=None, shots=tuple(shots), dry=None,
        reversals=(), when_braced=(), costs=None, reshaped=(),
    )  # fmt: skip
    (verdict,) = told.verdicts
    assert "BREAK" in str(verdict)
    assert "120%" in str(verdict)
    assert any("70% of its tension strength" in str(words) for words in told.cautions)
    assert replace(told, shots=()).verdicts == ()
