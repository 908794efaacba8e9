"""The local models wired into the bow: consistency of verdict, draw length and geometry."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.assess import look_at_zone
from limbfe.analysis.bow.nodes import node_positions
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import solve_bow
from limbfe.analysis.piece.traces import plane_of
from limbfe.analysis.wood.known_draws import known_draws
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.analysis.zones.advice import WIDEST
from limbfe.analysis.zones.changed import moved, widened
from limbfe.analysis.zones.left_in_limb import sharing
from limbfe.analysis.zones.surroundings import surroundings
from limbfe.analysis.zones.verdicts import SEED, judge_one, judge_zones, local_problem
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.errors import GeometryError
from limbfe.failure.local import judge_zone
from limbfe.failure.verdict import judge, sound_limits
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot
from limbfe.stave.stave import with_columns
from limbfe.wood.decay import decay_effect

from ...marked import marked_decay, marked_knot

CASES = Path(__file__).parents[3] / "cases"
ELM, ASH = CASES / "elm_longbow.toml", CASES / "ash_flatbow.toml"


@pytest.fixture(scope="module")
def setup():
    return adjust(build_setup(read_case(ELM)), drawing={"steps": 8})


def with_knots(setup, *knots):
    return replace(setup, stave=replace(setup.stave, knots=knots, decays=()))


def knot(setup, **changes):
    given = {
        "name": "K",
        "limb": "upper",
        "at": 0.298,
        "face": "back",
        "across": 0.004,
        "diameter": 0.008,
        "far_diameter": 0.005,
        "state": "live",
    }
    return marked_knot(setup.stave, **{**given, **changes})


def with_stave(model, stave):
    """The model of a bow without zones as if it had been drawn with those of a stave."""
    setup = replace(model.setup, stave=stave)
    return replace(model, stations=replace(model.stations, setup=setup))


@pytest.fixture(scope="module")
def drawn(setup):
    """The bow without zones, drawn on few elements, and what judges a zone put into it."""
    coarse = adjust(setup, analysis={"elements_per_limb": 6, "fineness": 0.5}, drawing={"steps": 4})
    solved = solve_bow(with_knots(coarse))
    load = limb_load(solved)

    def judged(zone, *others):
        knots = tuple(one for one in (zone, *others) if isinstance(one, Knot))
        decays = tuple(one for one in (zone, *others) if isinstance(one, Decay))
        stave = replace(coarse.stave, knots=knots, decays=decays)
        model = with_stave(solved.model, stave)
        return judge_one(model, load, known_draws(solved), zone)

    def every(*zones):
        knots = tuple(one for one in zones if isinstance(one, Knot))
        decays = tuple(one for one in zones if isinstance(one, Decay))
        model = with_stave(solved.model, replace(coarse.stave, knots=knots, decays=decays))
        return judge_zones(model, load, known_draws(solved))

    judged.model, judged.load, judged.every = solved.model, load, every
    return judged


def test_nodes_lie_at_the_ends_of_every_zone_and_of_the_grip(setup):
    nodes = node_positions(setup)
    assert np.all(np.diff(nodes) > 0.0)
    stave = setup.stave
    wanted = [stave.x[0], -stave.stiff_length / 2, 0.0, stave.stiff_length / 2, stave.x[-1]]
    wanted += [k.x + sign * k.radius for k in stave.knots for sign in (-1, 1)]
    wanted += [d.center[0] + sign * d.semi_axes[0] for d in stave.decays for sign in (-1, 1)]
    assert np.abs(nodes - np.array(wanted)[:, None]).min(axis=1).max() < 1e-12


@pytest.mark.slow
def test_zones_in_the_stiff_grip_are_judged(setup, drawn):
    """Its wood must pass the moment on; so thick a grip is strained less than the limb beside it.

    That moment is held to statics in `test_limb_load`.
    """
    middle, edge = (surroundings(drawn.model, drawn.load, at, 0.004) for at in (0.01, 0.05))
    assert 0.2 < middle.strains[:, 4].mean() / edge.strains[:, 4].mean() < 0.9
    found = drawn(knot(setup, at=0.01)).result
    assert found.strength_used > 0.1
    assert drawn(patch(setup, at=0.02)).result.strength_used > 0.1


@pytest.mark.slow
def test_a_knot_across_the_edge_of_the_grip_is_judged(setup, drawn):
    edge = setup.stave.stiff_length / 2.0
    result = drawn(knot(setup, at=edge + 0.002)).result
    assert 0.0 < result.strength_used < 2.0


@pytest.mark.slow
def test_a_wider_knot_uses_more_strength_and_a_pin_knot_little(setup, drawn):
    both = [drawn(knot(setup, diameter=d, far_diameter=0.6 * d)) for d in (0.002, 0.012)]
    for mode in ("fibre", "split", "yield"):
        used = [one.local.outcome.modes[mode].typical for one in both]
        assert used[0] < used[1]
    small, large = (one.result for one in both)
    assert large.strength_ratio < small.strength_ratio <= 1.02
    for result in (small, large):
        assert result.strength_used_low <= result.strength_used <= result.strength_used_high
        assert 0.0 <= result.failure_probability <= 1.0


@pytest.mark.slow
def test_a_drilled_hole_cuts_the_fibres_that_flow_round_a_fallen_knot(setup, drawn):
    """ASTM D245 lets a drilled hole be half as wide as a fallen-out knot of the same strength."""
    size = {"diameter": 0.006, "far_diameter": 0.006}
    fallen, drilled = (drawn(knot(setup, state=s, **size)) for s in ("missing", "drilled"))
    (angles,) = {float(np.ptp(f.angle)) for f in drilled.local.outcome.fields}
    assert angles == 0.0
    assert min(float(np.ptp(f.angle)) for f in fallen.local.outcome.fields) > 0.5
    fibre = [max(f.used["fibre"] for f in one.local.outcome.fields) for one in (fallen, drilled)]
    assert fibre[1] > 1.1 * fibre[0]
    assert drilled.result.words == "knot K (drilled)"
    assert drilled.to_dict()["state"] == "drilled"


@pytest.mark.slow
def test_at_the_draw_length_of_the_split_it_is_first_to_be_seen(setup):
    """Draw the bow afresh to the length that was named: the joint must then just open.

    Two per cent: the length is interpolated between states, and strains do not grow evenly.
    """
    one = with_knots(setup, knot(setup, diameter=0.009))
    result = look_at_zone(solve_bow(one), "K").result
    assert result.draw_length_at_split is not None
    assert result.split_course == "stays short"
    drawn = solve_bow(adjust(one, drawing={"length": result.draw_length_at_split}))
    again = look_at_zone(drawn, "K").local.outcome.grain_split
    assert min(again.start, again.opens) == pytest.approx(1.0, rel=0.02)


def patch(setup, **changes):
    given = {
        "name": "P",
        "limb": "lower",
        "at": 0.505,
        "face": "belly",
        "across": 0.0,
        "length": 0.05,
        "width": 0.012,
        "depth": 0.004,
        "effect": decay_effect("incipient", "white"),
        "stage": "incipient",
        "rot": "white",
    }
    return marked_decay(setup.stave, **{**given, **changes})


def test_knots_that_cross_inside_the_limb_are_refused(setup, drawn):
    """The case file sees knots of one face; one from the back and one from the belly meet here."""
    other = knot(setup, name="X", face="belly", across=0.006, far_diameter=None)
    with pytest.raises(
        GeometryError, match=r'knot "K" and knot "X" overlap or touch near x = 0.29'
    ):
        drawn(knot(setup), other)


def test_a_knot_as_wide_as_the_limb_at_every_depth_is_refused(setup, drawn):
    with pytest.raises(GeometryError, match="no wood is left beside it: correct its size"):
        drawn(knot(setup, diameter=0.0415, far_diameter=0.0415, across=0.0))


@pytest.mark.slow
def test_a_knot_wider_than_the_belly_is_still_judged_by_the_back(setup, drawn):
    """A round belly is narrower than the knot; the back beside it still carries, and breaks."""
    wide = drawn(knot(setup, diameter=0.03, far_diameter=0.03, across=0.0))
    assert wide.result.verdict.startswith("expect")
    assert wide.local.outcome.modes["fibre"].typical > 0.5


def test_a_zone_where_nothing_pulls_is_sound(setup, drawn):
    """At the nock the moment is nothing; 9 mm inside it presses to 0.16 of the crushing strain."""
    result = drawn(knot(setup, at=0.927, across=0.0, diameter=0.004, far_diameter=0.004)).result
    assert result.verdict == "sound"
    assert result.strength_used_high < 0.17
    assert result.draw_length_at_split is None
    assert result.draw_length_at_rupture is None


@pytest.mark.parametrize("length", [0.3, 0.7])
def test_a_long_patch_is_strained_as_the_limb_there(drawn, length):
    """The straight line along the patch lies within 8 per cent of the clear limb's own curve."""
    around = surroundings(drawn.model, drawn.load, 0.45, 0.5 * length)
    x, strains = drawn.model.stations.x, drawn.load.strains
    here = np.interp(0.45, around.x, around.strains[:, 4])
    assert here == pytest.approx(np.interp(0.45, x, strains[:, 4]), rel=0.08)


@pytest.mark.slow
def test_a_shallow_patch_is_found_on_either_side(setup, drawn):
    used = []
    for face in ("left", "right"):
        zone = patch(setup, face=face, width=0.005, depth=0.0015)
        stave = replace(setup.stave, knots=(), decays=(zone,))
        problem, _ = local_problem(with_stave(drawn.model, stave), drawn.load, zone)
        modes = judge_zone(problem).modes
        used.append(max(modes[mode].typical for mode in ("fibre", "split", "yield")))
    assert used[1] == pytest.approx(used[0], rel=0.1)
    assert used[1] > 0.1


def test_a_patch_is_layered_along_its_face_however_deep_it_is(setup):
    for depth in (0.0049, 0.0051):
        assert plane_of(patch(setup, width=0.01, depth=depth, across=1e-6)) == "flat"
        assert plane_of(patch(setup, face="left", width=0.01, depth=depth)) == "side"


def test_a_slanting_knot_is_met_along_its_axis(setup, drawn):
    """From a small pole: the branch enters high on one side and ends low inside the limb."""
    small = replace(setup, stave=with_columns(setup.stave, ring_radius=0.03))
    slanting = knot(small, face="right", across=0.002, diameter=0.006, far_diameter=None)
    stave = replace(small.stave, knots=(slanting,), decays=())
    layers = local_problem(with_stave(drawn.model, stave), drawn.load, slanting)[0].layers
    within = []
    for one in layers:
        (trace,) = one.knots
        ellipse = trace.ellipse
        assert ellipse.x == pytest.approx(slanting.x, abs=1e-3)
        right, left = one.strip.right.min(), one.strip.left.max()
        within.append(right < ellipse.y + ellipse.b and ellipse.y - ellipse.b < left)
    assert sum(within) > 1


@pytest.mark.parametrize("size", ["length", "width", "depth"])
def test_a_patch_of_no_size_is_refused(setup, size):
    with pytest.raises(GeometryError, match="all must be above zero"):
        patch(setup, **{size: 0.0})


@pytest.mark.slow
def test_a_patch_through_the_whole_section(setup, drawn):
    """From edge to edge and belly to back, far gone: no strain is left that it bears."""
    through = {"width": 0.038, "depth": 0.0168, "length": 0.08}
    rotten = drawn(patch(setup, **through, effect=decay_effect("advanced", "brown"))).result
    assert rotten.verdict == "expect rupture"
    assert rotten.strength_ratio < 0.3
    assert drawn(patch(setup, **through)).result.strength_used < rotten.strength_used


@pytest.mark.slow
def test_a_mark_outside_the_finished_limb_is_gone(setup, drawn):
    """Only the swirl of its grain is left; one that the edge cuts keeps the wood inside it."""
    half = 0.5 * float(np.interp(0.298, setup.stave.x, setup.stave.width))
    size = {"diameter": 0.008, "far_diameter": 0.008}
    gone, cut, whole = (
        drawn(knot(setup, across=half + further, **size)).result
        for further in (0.006, -0.001, -0.012)
    )
    assert (gone.fate, cut.fate, whole.fate) == ("gone", "cut", "whole")
    assert gone.words == "knot K (gone)"
    assert str(gone.advice).startswith("no wood of it is left in the finished limb")
    assert "the edge of the limb cuts it" in str(cut.advice)
    assert gone.strength_ratio >= cut.strength_ratio
    assert gone.to_dict()["fate"] == "gone"


@pytest.mark.slow
def test_zones_of_one_piece_of_wood_have_one_verdict(setup, drawn):
    """A knot with rot round it, and a second patch that overlaps the first, not the knot."""
    rot = patch(setup, limb="upper", face="back", at=0.300, length=0.02, width=0.008, depth=0.003)
    more = replace(
        patch(setup, limb="upper", face="back", at=0.316, length=0.02, width=0.008, depth=0.003),
        name="S",
    )
    far = replace(patch(setup, limb="upper", face="back", at=0.400, length=0.02), name="F")
    stave = replace(setup.stave, knots=(knot(setup),), decays=(rot, more, far))
    groups = [tuple(one.name for one in sharing(stave, zone)) for zone in (rot, more, far)]
    assert groups == [("K", rot.name, "S"), ("K", rot.name, "S"), ("F",)]
    found = drawn.every(knot(setup), rot)
    first, second = (one.result for one in found)
    assert first.strength_used == second.strength_used
    assert first.verdict == second.verdict
    assert (first.together, second.together) == ((str(rot.label),), (str(knot(setup).label),))
    assert "one verdict holds" in str(second.advice)


def without_crushing(problem):
    """The verdict on a break alone; the bow's own sections are those of the limb as it was."""
    outcome = judge_zone(replace(problem, sections=()), np.random.default_rng(SEED))
    crush = replace(outcome.modes["yield"], typical=0.0)
    return judge(replace(outcome, modes={**outcome.modes, "yield": crush}))


@pytest.mark.slow
def test_a_move_that_is_advised_is_enough(setup, drawn):
    """A dead knot near the edge: found by trials of its split, judged with all that bears on it.

    The centre line goes to the right, so the knot goes to the left, or the other way and off.
    """
    judged = drawn(knot(setup, across=0.0148, state="dead", diameter=0.010, far_diameter=0.0085))
    inwards, off = (1e-3 * float(n) for n in re.findall(r"(\d+) mm \([^)]*\) to the", said(judged)))
    assert without_crushing(judged.local.problem) != "sound"
    assert without_crushing(moved(judged.local.problem, -inwards)) == "sound"
    assert without_crushing(moved(judged.local.problem, off)) == "sound"


@pytest.mark.slow
def test_no_lump_is_advised(monkeypatch):
    """A drilled hole in a flat limb that no moderate width makes sound: that is said.

    An edge that is faired out over the limb's width does not leave its line by more than 1 in 6.
    This hole asks for a quarter more width; only an eighth is allowed it here.
    """
    assert 0.5 * (WIDEST - 1.0) <= 1.0 / 6.0 + 1e-12
    monkeypatch.setattr("limbfe.analysis.zones.advice.WIDEST", 1.12)
    ash = build_setup(read_case(ASH))
    hole = marked_knot(
        ash.stave, name="A", limb="upper", at=0.31, face="back", across=0.0, diameter=0.012,
        state="drilled",
    )  # fmt: skip
    judged = look_at_zone(solve_bow(with_knots(ash, hole)), "A")
    assert judged.result.verdict == "watch"
    assert "would not make it sound" in str(judged.result.advice)
    assert without_crushing(widened(judged.local.problem, 1.12)) != "sound"


def said(judged):
    words = str(judged.result.advice)
    assert "sound but for the wrinkled belly" in words
    return words


@pytest.mark.slow
def test_at_the_draw_that_is_advised_the_zone_is_sound(setup):
    """Draw the bow afresh to the length and look at its weight; a little further it is not sound.

    A small knot, whose strength used and band would allow more than its chance of failure does.
    """
    one = with_knots(setup, knot(setup, diameter=0.006, far_diameter=0.0036))
    advice = look_at_zone(solve_bow(one), "K").result.advice
    length, force = (
        float(n) for n in re.search(r"draw of (\d+) mm .* pulls ([\d.]+) N", str(advice)).groups()
    )
    again = solve_bow(adjust(one, drawing={"length": 1e-3 * length}))
    assert again.full_draw.draw_force == pytest.approx(force, rel=0.02)
    judged = look_at_zone(again, "K")
    result, local = judged.result, judged.local
    assert (result.verdict, judge(local.outcome)) == ("sound", "sound")
    assert local.outcome.modes["split"].high < 0.95
    further = solve_bow(adjust(one, drawing={"length": 1.06e-3 * length}))
    assert look_at_zone(further, "K").result.verdict == "watch"


@pytest.mark.slow
def test_a_zone_that_only_chance_speaks_against_is_told_so(setup, drawn):
    """Its band does not reach failure, so that must not be said."""
    effect = replace(decay_effect("moderate", "white"), tension=0.36)
    judged = drawn(patch(setup, face="back", length=0.03, depth=0.002, effect=effect))
    outcome = judged.local.outcome
    passed = [one.mark for one in sound_limits(outcome) if one.factor <= 1.0]
    assert passed == ["chance"]
    assert judged.result.verdict == "watch"
    assert "adds more than 1 in 20 to the chance that this bow breaks" in str(judged.result.advice)
    assert "sound up to a draw of" in str(judged.result.advice)


def test_every_layer_scatters_as_its_own_wood(setup, drawn):
    """A coefficient of variation in [wood.sapwood] acts on the layers that lie in the sapwood."""
    zone = knot(setup)
    stave = drawn.model.setup.stave
    strength = stave.sapwood_wood.strength
    other = replace(
        stave.sapwood_wood,
        strength=replace(strength, cov={**strength.cov, "tension_strength_across": 0.07}),
    )
    stave = replace(stave, knots=(zone,), sapwood_wood=other)
    model = with_stave(drawn.model, stave)
    layers = local_problem(model, drawn.load, zone)[0].layers
    scatter = [piece.scatter.tension_across for piece in layers]
    assert scatter[0] == 0.07
    assert scatter[-1] == stave.heartwood.strength.cov["tension_strength_across"] != 0.07
