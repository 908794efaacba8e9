"""A zone a little larger, deeper, further aside or drawn further is judged a little otherwise.

What splits beside a knot is followed in a panel of its own, and steps by less than a hundredth of
itself besides its growth, as fibres do; what splits at a patch, and what windows say of the stress
beside a knot, steps by up to four.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import solve_bow
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.analysis.zones.verdicts import local_problem
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.failure.local import judge_zone
from limbfe.stave.columns import COLUMNS
from limbfe.stave.knot import Filler, Knot
from limbfe.stave.stave import column, with_columns
from limbfe.wood.decay import decay_effect

from ...marked import marked_decay, marked_knot

ELM = Path(__file__).parents[3] / "cases" / "elm_longbow.toml"
FIBRES, SPLITS, WINDOWS = 5e-3, 1e-2, 4e-2
"""Parts of itself by which what breaks and what splits may step back from one size to the next, and
by which what windows say of splitting may grow unevenly."""
WEAKER = 5e-4
"""Part of itself by which fibres beside a knot may gain as it grows: a knot strengthens no limb."""


@pytest.fixture(scope="module")
def setup():
    """The elm bow without zones, both limbs alike, straight and untwisted."""
    elm = adjust(
        build_setup(read_case(ELM)),
        analysis={"elements_per_limb": 6, "fineness": 0.5},
        drawing={"steps": 3},
        holding={"hand_at": 0.0, "arrow_at": 0.0},
    )
    stave = replace(elm.stave, knots=(), decays=())
    up = np.flatnonzero(stave.x >= 0.0)
    odd = {"lean", "sideways", "twist", "run_out", "sideways_grain", "spiral"}

    def both(values):
        return np.concatenate([values[up][:0:-1], values[up]])

    columns = {name: both(column(stave, name)) * (name not in odd) for name in COLUMNS}
    x = np.concatenate([-stave.x[up][:0:-1], stave.x[up]])
    return replace(elm, stave=with_columns(stave, x=x, **columns))


def with_zone(setup, zone):
    knots, decays = ((zone,), ()) if isinstance(zone, Knot) else ((), (zone,))
    return replace(setup, stave=replace(setup.stave, knots=knots, decays=decays))


@pytest.fixture(scope="module")
def drawn(setup):
    return solve_bow(setup, beyond=False)


@pytest.fixture(scope="module")
def judged(setup, drawn):
    """The modes of a zone put into the bow that was drawn without."""
    load = limb_load(drawn)

    def modes(zone):
        stations = replace(drawn.model.stations, setup=with_zone(setup, zone))
        problem, _ = local_problem(replace(drawn.model, stations=stations), load, zone)
        found = judge_zone(problem)
        every = ("fibre", "split", "yield", "opening", "sliding")
        return np.array([found.modes[mode].typical for mode in every])

    return modes


def knot(setup, **changes):
    given = {
        "name": "K", "limb": "upper", "at": 0.298, "face": "back", "across": 0.004,
        "diameter": 0.008, "far_diameter": 0.005, "state": "live",
    }  # fmt: skip
    return marked_knot(setup.stave, **{**given, **changes})


def patch(setup, **changes):
    given = {
        "name": "P", "limb": "upper", "at": 0.298, "face": "belly", "across": 0.002,
        "length": 0.05, "width": 0.012, "depth": 0.004,
        "effect": decay_effect("moderate", "white"), "stage": "moderate", "rot": "white",
    }  # fmt: skip
    return marked_decay(setup.stave, **{**given, **changes})


def grows(setup, judged, sizes):
    used = np.array([judged(knot(setup, diameter=d, far_diameter=0.6 * d)) for d in sizes])
    assert np.abs(np.diff(np.log(used[:, 3:]), 2, axis=0)).max() < WINDOWS
    used = used[:, :3]
    change = np.diff(used, axis=0) / used[:-1]
    step = float(np.diff(sizes)[0] / sizes[0])
    assert change[:, 0].min() > -WEAKER
    assert change[:, 1].min() > -SPLITS
    assert change[:, 2].min() > -FIBRES
    # nothing grows faster than the square of the size, but for the windows' own steps
    assert change.max() < 2.0 * step + SPLITS
    # and followed splits grow steadily: what one quarter adds, the next does
    assert np.abs(np.diff(change[:, 1])).max() < SPLITS
    # the larger knot is a larger window's: fibres may stand still over a few quarters
    assert used[-1, 0] > used[0, 0] * (1.0 - FIBRES)
    assert np.all(used[-1, 1:] > used[0, 1:])


@pytest.mark.slow
def test_a_knot_grows_by_a_quarter_of_a_millimetre(setup, judged):
    grows(setup, judged, np.arange(8.0, 8.8, 0.25) * 1e-3)


@pytest.mark.slow
@pytest.mark.parametrize("start", [6.0, 10.5])
def test_a_small_and_a_large_knot_grow(setup, judged, start):
    grows(setup, judged, (start + np.arange(0.0, 0.8, 0.25)) * 1e-3)


def deepens(setup, judged, depths):
    used = np.array([judged(patch(setup, depth=d)) for d in depths])
    assert np.diff(used[:, 0]).min() > -FIBRES * used[0, 0]
    return used


@pytest.mark.slow
def test_a_patch_of_no_depth_is_none(setup, judged):
    """From a tenth of a millimetre on, deeper is never better; the shallowest is the sound limb."""
    used = deepens(setup, judged, np.array([1e-4, 1.4e-3, 1.5e-3]))
    assert used[2] == pytest.approx(used[1], rel=0.05)


def test_rot_makes_a_hinge_by_and_by(setup, drawn):
    """What is left of a section nears giving way with every bit of depth, far from it too."""
    load, used = limb_load(drawn), []
    for depth in (1e-3, 2.5e-3, 4e-3):
        rot = {"effect": decay_effect("advanced", "white"), "stage": "advanced"}
        zone = patch(setup, depth=depth, width=0.02, **rot)
        problem, _ = local_problem(drawn.model, load, zone, with_zone(setup, zone).stave)
        used.append({one.mode: one.used for one in problem.sections}["through"])
    assert np.all(np.diff(used) > 0.0)
    assert used[-1] < 0.8


def test_a_section_crushed_at_a_knot_sets_in_by_and_by(setup, drawn):
    """It counts nothing beside a small knot, wholly beside one that all but takes the belly."""
    load, used = limb_load(drawn), []
    for diameter in np.arange(8.0, 18.0) * 1e-3:
        zone = knot(setup, diameter=diameter, far_diameter=0.7 * diameter)
        problem, _ = local_problem(drawn.model, load, zone, with_zone(setup, zone).stave)
        ways = {one.mode: one.used for one in problem.sections}
        used.append(ways.get("through", 0.0))
    assert used[0] == 0.0
    assert used[-1] > 0.8
    assert np.diff(used).min() >= 0.0
    assert np.diff(used).max() < 0.25
    assert np.sum((np.array(used) > 0.0) & (np.array(used) < 0.8)) > 2


@pytest.mark.slow
def test_a_patch_deepens(setup, judged):
    used = deepens(setup, judged, np.arange(1.6, 6.0, 0.5) * 1e-3)
    assert np.abs(np.diff(used, axis=0)).max() < 0.2


@pytest.mark.slow
def test_a_patch_widens_by_a_quarter_of_a_millimetre(setup, judged):
    """What splits changes alike from one quarter to the next: its worst window lies anywhere."""
    used = np.array([judged(patch(setup, width=w * 1e-3))[1] for w in (12.0, 12.25, 12.5, 12.75)])
    change = np.diff(used) / used[:-1]
    assert np.abs(np.diff(change)).max() < SPLITS


@pytest.mark.slow
def test_a_knot_moves_to_the_edge(setup, judged):
    """Fibres hardly change; splits rise steadily while wood is left beside the knot.

    Then what is left to split off falls as the knot leaves the limb, by up to 0.36 a millimetre;
    from 19 mm on it is a sliver, and nothing is when the edge goes through the knot's middle.
    """
    across = np.array([0.0, 13.0, 15.0, 16.0, 17.0, 18.0, 19.0, 20.0, 21.2])
    used = np.array([judged(knot(setup, across=a * 1e-3)) for a in across])
    change = np.diff(used, axis=0) / np.diff(across)[:, None]
    assert np.abs(change[:, 0]).max() < 0.03
    assert change[across[1:] <= 16.0, 1].min() > 0.0
    assert np.abs(change[:, 1]).max() < 0.4


@pytest.mark.slow
@pytest.mark.parametrize(
    ("state", "far"), [("dead", None), ("dead", 0.008), ("missing", 0.008), ("live", None)]
)
def test_an_edge_may_cut_a_knot_anywhere(setup, judged, state, far):
    """A loose piece that nothing holds is no mechanism that would end the whole bow."""
    size = {"diameter": 0.008, "far_diameter": far, "state": state}
    used = [judged(knot(setup, across=a, **size)) for a in (0.0175, 0.0205, 0.022)]
    assert np.all(np.isfinite(used))


@pytest.mark.slow
def test_a_plug_that_softens_becomes_the_empty_hole(setup, judged):
    """What splits beside a plug as soft as nothing is the open hole's; a stiff one is pinched.

    A pulled hole narrows across the grain; a plug that will not drives the split harder.
    """

    def split(E):
        filler = None if E is None else Filler(E=E, tension=40e6, shear=25e6)
        size = {"diameter": 0.006, "far_diameter": 0.006, "state": "drilled", "filler": filler}
        return judged(knot(setup, **size))[1]

    empty, soft, stiff = (split(E) for E in (None, 1e6, 3e9))
    assert soft == pytest.approx(empty, rel=3e-3)
    assert 1.0 < stiff / empty < 1.15


@pytest.mark.slow
def test_a_draw_of_a_millimetre_more_uses_a_little_more(setup):
    used = []
    for length in np.arange(0.600, 0.6025, 1e-3):
        setup_there = adjust(setup, drawing={"length": float(length)})
        zone = knot(setup)
        drawn = solve_bow(with_zone(setup_there, zone), beyond=False)
        problem, _ = local_problem(drawn.model, limb_load(drawn), zone)
        found = judge_zone(problem)
        used.append([found.modes[mode].typical for mode in ("fibre", "split", "yield")])
    change = np.diff(used, axis=0)
    assert np.all(change > 0.0)
    assert change.max() < 0.01


def mirrored(setup, make, across, within):
    outcomes = []
    for limb, aside in (("upper", across), ("upper", -across), ("lower", across)):
        zone = make(setup, limb=limb, across=aside)
        drawn = solve_bow(with_zone(setup, zone), beyond=False)
        problem, _ = local_problem(drawn.model, limb_load(drawn), zone)
        found = judge_zone(problem)
        modes = (found.modes[mode] for mode in ("fibre", "opening", "sliding", "split", "yield"))
        outcomes.append(np.array([[one.low, one.typical, one.high] for one in modes]))
    first, other_side, other_limb = outcomes
    assert other_side == pytest.approx(first, rel=within)
    assert other_limb == pytest.approx(first, rel=within)


@pytest.mark.slow
def test_mirrored_bows_are_judged_alike(setup):
    mirrored(setup, knot, 0.004, 1e-9)


@pytest.mark.slow
def test_mirrored_patches_are_judged_alike(setup):
    mirrored(setup, patch, 0.010, 1e-9)
