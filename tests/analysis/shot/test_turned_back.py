"""Knots where limbs turn back: the load they are judged under, no milder than clear wood."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import limbfe
from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.shot import turned_back
from limbfe.analysis.shot.results import Shots
from limbfe.analysis.shot.reversal import PULLED, Reversal
from limbfe.analysis.shot.strains import limb_strains, reaching, shot_load
from limbfe.analysis.shot.turned_back import Turned, residual_factor, reversals
from limbfe.analysis.wood.limb_load import limb_load, resultants_at
from limbfe.analysis.wood.stretched import relieved_wood
from limbfe.analysis.zones.own_sections import own_sections
from limbfe.analysis.zones.surroundings import sound_strains, surroundings
from limbfe.analysis.zones.verdicts import GRAVITY
from limbfe.beam.shot.setup import Gear
from limbfe.beam.shot.shoot import shoot_from
from limbfe.case.build import build_setup
from limbfe.stave.named_zones import zones_of

COARSE = "\n[analysis]\nelements_per_limb = 6\nfineness = 0.5\n"
CASES = Path(__file__).parents[3] / "cases"
KNOT = """
[[knot]]
name = "D"
limb = "lower"
at = "400 mm"
face = "{face}"
across = "1 mm"
diameter = "{diameter} mm"
state = "dead"
"""


def coarse(folder, diameter, face="belly"):
    text = (CASES / "ash_flatbow.toml").read_text("utf-8").replace("steps = 30", "steps = 8")
    text += COARSE
    text += KNOT.format(diameter=diameter, face=face)
    path = folder / f"knot_{diameter}_{face}.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def released(tmp_path_factory):
    """The exercised bow with a small knot on its belly, and a release of it without an arrow."""
    case = limbfe.read_case(coarse(tmp_path_factory.mktemp("released"), 6))
    solved = exercised_bow(build_setup(case), beyond=False)
    return solved, shoot_from(solved.model.bow, solved.full_draw, 0.0, Gear(), step=1e-4)


def test_the_load_at_the_release_is_that_of_full_draw(released):
    solved, shot = released
    load, full = shot_load(solved, shot, 0), limb_load(solved)
    assert load.resultants == pytest.approx(full.resultants, abs=1e-9)
    assert load.strains == pytest.approx(full.strains, abs=1e-12)
    assert load.inside.stress == pytest.approx(full.inside.stress, abs=1e-3)


def turned_step(solved, shot, x=-0.4):
    """The step of all at which a knot's stretch of limb is bent back the most."""
    near = np.abs(solved.model.stations.x - x).argmin()
    steps = range(0, len(shot.time), 6)
    return min(steps, key=lambda k: shot_load(solved, shot, k).resultants[near, 4])


def test_stress_balances_the_moment_when_turned_back(released):
    """Stress times area times height is the beam's moment, the pull of the crushed belly counted.

    At the stations clear of the knot; statics.
    """
    solved, shot = released
    load = shot_load(solved, shot, turned_step(solved, shot))
    x, area = solved.model.stations.x, solved.section.weights.reshape(len(load.strains), -1)
    moment = (area * load.inside.stress[..., 0] * load.inside.points[..., 1]).sum(axis=1)
    clear = solved.model.stations.bends & (np.abs(x + 0.4) > 0.06)
    exact = load.resultants[clear, 4]
    assert exact.min() < -2.0
    assert moment[clear] == pytest.approx(exact, abs=0.01 * np.abs(exact).max())


def test_wood_that_answers_too_late_to_matter_is_so_much_stiffer(released):
    """A damper that hardly ever yields is a spring: closed."""
    solved, _ = released
    gear = Gear(shares=(0.1,), delays=(1e12,))
    shot = shoot_from(solved.model.bow, solved.full_draw, 0.0, gear, step=1e-4)
    elastic = replace(shot, model=shot.model._replace(shares=np.zeros(1)))
    load, plain = (shot_load(solved, one, 150) for one in (shot, elastic))
    full = limb_load(solved)
    assert plain.resultants[:, 4].min() < 0.8 * full.resultants[:, 4].min()
    assert load.resultants - full.resultants == pytest.approx(
        1.1 * (plain.resultants - full.resultants), abs=1e-6
    )
    assert load.strains - full.strains == pytest.approx(
        1.1 * (plain.strains - full.strains), abs=1e-12
    )


def test_the_grip_beside_a_limb_is_turned_back_with_it(released):
    """No load comes in between: the moment grows by the shear force (statics)."""
    solved, shot = released
    load = shot_load(solved, shot, turned_step(solved, shot))
    stave = solved.model.setup.stave
    within = np.array([-0.012, 0.006, 0.024]) - 0.5 * stave.stiff_length
    assert list(stave.bends(within)) == [True, False, False]
    resultants = resultants_at(solved.model, load, within)
    shear, moment = resultants[:, 2], resultants[:, 4]
    assert moment.max() < 0.0
    assert np.diff(moment) == pytest.approx(0.018 * 0.5 * (shear[1:] + shear[:-1]), rel=0.05)


def test_a_crushed_belly_is_pulled_before_anything_bends_it(released):
    """The factor is above 1, and 1 for the same limbs had nothing crushed them."""
    solved, shot = released
    (zone,) = zones_of(solved.model.setup.stave)
    load = shot_load(solved, shot, turned_step(solved, shot))
    assert solved.plastic[-1].any()
    assert residual_factor(solved, load, zone) > 1.05
    x = solved.model.stations.x
    strains = sound_strains(solved.model.setup, load.resultants, x)
    skin, inside = relieved_wood(
        solved.model.stations, solved.section, strains, 0.0 * solved.plastic[-1]
    )
    fresh = replace(load, skin=skin, inside=inside, strains=strains)
    assert residual_factor(solved, fresh, zone) == pytest.approx(1.0, abs=0.02)


def test_a_knot_s_sections_count_what_their_wood_is_pulled_by(tmp_path):
    """No more than the bow's own fibres, which are pulled by their crushing already.

    Told by strains counted from the new bow it was fifteen times as much beside a live pin.
    """
    text = (CASES / "from_a_tape.toml").read_text("utf-8").replace("steps = 30", "steps = 8")
    path = tmp_path / "tape.toml"
    path.write_text(text + COARSE, encoding="utf-8")
    solved = exercised_bow(build_setup(limbfe.read_case(path)), beyond=False)
    shot = shoot_from(solved.model.bow, solved.full_draw, 0.0, Gear(), step=1e-4)
    zones = zones_of(solved.model.setup.stave)
    assert len(zones) == 3
    for zone in zones:
        load = shot_load(solved, shot, turned_step(solved, shot, zone.extent[0]))
        around = surroundings(solved.model, load, *zone.extent)
        (fibre,) = (u for u in own_sections(solved.model, load, around, zone) if u.mode == "fibre")
        near = np.abs(solved.model.stations.x - fibre.x) < 0.03
        assert 0.0 < fibre.sound <= fibre.used <= load.skin.used.tension[near].max()
        assert fibre.z < 0.0  # the belly


def turned(**words):
    plain = {
        "name": "D", "label": 'knot "D"', "arrow": 0.0, "time": 0.02, "stretched": 4e-3,
        "raised": 1.2, "verdict": "sound", "mode": "fibres break", "strength_used": 0.4,
    }  # fmt: skip
    return Reversal(**{**plain, **words})


@pytest.mark.parametrize(
    ("words", "said", "breaks"),
    [
        ({}, "sound (40 %", False),
        ({"verdict": "watch", "strength_used": 0.9}, "WATCH", False),
        ({"verdict": "expect a split", "strength_used": 1.2}, "EXPECT A SPLIT", True),
        ({"arrow": 0.03, "verdict": "expect rupture"}, "after the arrow has left", True),
        ({"verdict": "not judged", "mode": "no model", "strength_used": None}, "no model", True),
        ({"rough": True, "verdict": "watch"}, "the limbs by then: WATCH", False),
        (
            {"at_full_draw": True, "verdict": "expect rupture", "strength_used": 1.3},
            "worse off at full draw already: EXPECT RUPTURE (fibres break; 130 %",
            True,
        ),
    ],
)
def test_words(words, said, breaks):
    found = turned(**words)
    assert said in str(found.words())
    assert found.breaks == breaks
    assert found.to_dict()["belly_stretched"] == 4e-3


def test_full_draw_is_judged_once_for_shots_with_and_without_an_arrow(released, monkeypatch):
    solved, shot = released
    strains = limb_strains(solved, shot)
    both = [Turned(arrow=mass, shot=shot, strains=strains) for mass in (0.03, 0.0)]
    full, loads = limb_load(solved), []

    def verdict(_, load, zone):
        loads.append(load.resultants)
        drawn = np.array_equal(load.resultants, full.resultants)
        return {"verdict": "watch", "mode": "fibres break", "strength_used": 0.9 - 0.1 * drawn}

    monkeypatch.setattr(turned_back, "_verdict", verdict)
    found = reversals(solved, both)
    assert [one.arrow for one in found] == [0.03, 0.0]
    assert sum(np.array_equal(load, full.resultants) for load in loads) == 1
    assert len(loads) == 5  # belly and back of either shot


def test_a_back_stretched_farther_than_at_full_draw_is_judged_then(released, monkeypatch):
    """Let go without an arrow, a limb that swings forth again pulls its back by a fifth more."""
    solved, shot = released
    strains = limb_strains(solved, shot)
    drawn = np.minimum(strains.back, strains.back_drawn)
    loads = []

    def verdict(solved, load, zone):
        loads.append(load)
        return {"verdict": "watch", "mode": "fibres break", "strength_used": 0.5 + 0.1 * len(loads)}

    monkeypatch.setattr(turned_back, "_verdict", verdict)
    step = 7
    farther = drawn.copy()
    farther[step] = 1.2 * strains.back_drawn
    still = np.broadcast_to(strains.belly_unstrung, strains.belly.shape)

    def judged(back):
        seen = replace(strains, back=back, belly=still)
        return reversals(solved, [Turned(arrow=0.0, shot=shot, strains=seen)])

    assert judged(drawn) == ()
    (found,) = judged(farther)
    assert found.face == "back"
    assert found.time == shot.time[step]
    assert found.raised == 1.0
    assert found.strength_used == 0.7  # not that of full draw, which is judged first
    there = reaching(strains, zones_of(solved.model.setup.stave)[0])
    assert found.stretched == pytest.approx(1.2 * strains.back_drawn[there].max())
    assert np.array_equal(loads[-1].resultants, shot_load(solved, shot, step).resultants)
    assert "the back there is stretched" in str(found.words())
    assert "farther than at full draw" in str(found.words())


@pytest.mark.slow
def test_a_knot_on_the_belly_is_judged_in_a_dry_release(tmp_path):
    """Larger ones are worse, both are told, in the caution and in the JSON alike."""
    small, large = (limbfe.shoot(coarse(tmp_path, size), dry=True) for size in (5, 16))
    for shots in (small, large):
        assert isinstance(shots, Shots)
        (found,) = shots.reversals
        assert found.arrow == 0.0
        assert found.stretched > PULLED
        assert found.raised >= 1.0
        assert not (found.rough and found.verdict == "sound")
        assert any(str(found.words()) == str(line) for line in shots.cautions)
        assert found.to_dict() in shots.to_dict()["reversal"]
        # no milder than clear wood with the same stretch: E_L times it, over the tension strength
        wood = shots.solved.model.setup.stave.heartwood
        plain = wood.elasticity.E_L * found.stretched / wood.strength.tension
        assert found.strength_used > 0.8 * plain
    used = [shots.reversals[-1].strength_used for shots in (small, large)]
    assert used[1] > used[0]


@pytest.mark.slow
def test_no_knot_is_told_milder_than_at_full_draw(tmp_path):
    """A large knot on the back is pulled at full draw and pressed where the limbs turn back."""
    path = coarse(tmp_path, 16, "back")
    (found,) = limbfe.shoot(path, dry=True).reversals
    (drawn,) = limbfe.assess(path).zones
    assert drawn.verdict != "sound"
    assert GRAVITY.index(found.verdict) >= GRAVITY.index(drawn.verdict)
    assert found.strength_used >= drawn.strength_used
