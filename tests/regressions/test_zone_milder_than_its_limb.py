"""Rot that makes a hinge of the limb was judged by the strain of the sound limb round it.

An advanced patch 8 mm deep in a limb 12 mm thick was said to be crushed and to take a set, with a
chance of 1 in 10,000 to fail, or to be sound, where the limb's own section stood far past what
breaks it.
"""

from dataclasses import replace

import numpy as np
import pytest

from limbfe.analysis.assess import assess_solved, look_at_zone
from limbfe.analysis.bow.exercise import exercise, exercised_bow
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import solve_bow
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.analysis.zones.own_sections import own_sections
from limbfe.analysis.zones.surroundings import surroundings
from limbfe.analysis.zones.verdicts import local_problem
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.failure.local import judge_zone
from limbfe.studies.sweep.zone import Axis, sweep_zone
from limbfe.wood.bar import HOLDS
from limbfe.wood.decay import decay_effect

from ..marked import marked_decay

FLATBOW = """
title = "Narrow hickory flatbow"
question = "Does it bear the rotten belly?"
[wood.whole]
species = "shagbark hickory"
moisture = 10
[section]
back = "flat"
belly = "flat"
[limb.both]
unit = "mm"
station = [0, 60, 120, 300, 500, 700, 900]
width = [30, 30, 20, 20, 20, 20, 12]
thickness = [30, 30, 12, 12, 12, 12, 10]
[grip]
stiff_length = "120 mm"
hold = "hand"
[string]
brace_height = "150 mm"
stiffness = "38 kN"
[draw]
length = "26 in"
steps = 8
[analysis]
elements_per_limb = 8
[[decay]]
name = "B"
limb = "upper"
at = "160 mm"
face = "belly"
across = "0 mm"
length = "64 mm"
width = "20 mm"
depth = "{depth} mm"
stage = "advanced"
rot = "white"
"""


def case(folder, depth):
    path = folder / "hickory.toml"
    path.write_text(FLATBOW.format(depth=depth))
    return read_case(path)


@pytest.fixture(scope="module")
def deep(tmp_path_factory):
    return build_setup(case(tmp_path_factory.mktemp("deep"), 8))


@pytest.fixture(scope="module")
def solved(deep):
    return solve_bow(deep)


@pytest.fixture(scope="module")
def assessment(solved):
    return assess_solved(solved)


def at_the_zone(solved):
    """Strength used by the sections in the zone: in tension, and of what crushes them through."""
    zone, load = solved.model.setup.stave.decays[0], limb_load(solved)
    x, reach = zone.extent
    here = np.abs(solved.model.stations.x - x) <= reach
    used = load.skin.used
    return float(used.tension[here].max()), float(load.skin.shortened[here].max()) / HOLDS


def test_a_zone_is_judged_no_milder_than_its_sections(solved, assessment):
    (found,) = assessment.zones
    tension, through = at_the_zone(exercise(solved))
    assert tension > 1.05
    assert through > 1.5
    assert (found.verdict, found.mode) == ("expect rupture", "gives way on the belly")
    assert found.strength_used >= max(tension, through) * (1.0 - 1e-9)
    assert found.strength_used_low == found.strength_used == found.strength_used_high
    assert found.failure_probability > 0.9
    assert found.strength_ratio < 0.5
    assert f"the limb itself is worked to {through:.0%} there" in str(found.advice)
    assert "wider there" not in str(found.advice)
    modes = assessment.judged[0].local.outcome.modes
    assert modes["yield"].typical > through


def test_the_plate_itself_finds_the_hinge(solved):
    """Without the sections' say: belly shortened two thirds as far, back strained twice as much.

    A window is 2 mm deep, half of the sound wood that is left, so that the plate says less than the
    faces of the section; and its rot is crushed at every depth by its own law, with the wood before
    and behind it in balance, where the section's face stands alone.
    """
    drawn = exercise(solved)
    zone = drawn.model.setup.stave.decays[0]
    problem, _ = local_problem(drawn.model, limb_load(drawn), zone)
    faces = {one.mode: one.used for one in problem.sections}
    outcome = judge_zone(replace(problem, sections=()))
    assert 0.65 < outcome.modes["yield"].typical / faces["yield"] < 1.1
    assert outcome.modes["fibre"].typical > 1.8 * outcome.clear["fibre"]


def test_at_the_draw_length_that_is_named_the_section_is_used_up(deep, assessment):
    (result,) = assessment.zones
    assert 0.3 < result.draw_length_at_rupture < 0.9 * deep.drawing.length
    again = solve_bow(adjust(deep, drawing={"length": result.draw_length_at_rupture}), beyond=False)
    assert max(at_the_zone(again)) == pytest.approx(1.0, rel=0.03)


@pytest.mark.slow
def test_a_swept_patch_is_judged_by_the_sections_it_would_leave(solved, tmp_path):
    """The bow is drawn with a shallow patch; the deep one is held against what the drawn bow says.

    A hinge takes load from itself, which the sweep does not know, so that it says more.
    """
    swept = sweep_zone(
        case(tmp_path, 2), "B", (Axis(name="depth", values=(2e-3, 8e-3)),), workers=1
    )
    used, drawn = swept.column("strength_used"), max(at_the_zone(solved))
    assert used[0] < 0.95
    assert used[1] > drawn


@pytest.mark.slow
def test_a_patch_in_the_stiff_grip_is_judged_by_its_own_section(deep):
    """There the beam does not bend, but the wood must pass the moment on."""
    stave = replace(deep.stave, decays=())
    patch = marked_decay(
        stave, name="G", limb="upper", at=0.03, face="belly", across=0.0, length=0.04, width=0.03,
        depth=0.027, effect=decay_effect("advanced", "brown"), stage="advanced", rot="brown",
    )  # fmt: skip
    held = exercised_bow(replace(deep, stave=replace(stave, decays=(patch,))), beyond=False)
    load = limb_load(held)
    around = surroundings(held.model, load, *patch.extent)
    worked = {one.mode: one.used for one in own_sections(held.model, load, around, patch)}
    assert 0.03 < worked["fibre"] < 0.5
    assert 0.1 < worked["yield"] < 1.0
    found = look_at_zone(held, "G").result
    assert found.strength_used >= worked["fibre"]
    assert found.wrinkling_used >= worked["yield"]
