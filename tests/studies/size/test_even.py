"""Strength used alike at every station."""

from dataclasses import replace

import numpy as np
import pytest

from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.errors import CaseError
from limbfe.report.size import size_sentence
from limbfe.stave.recurve import recurved
from limbfe.studies.size.blank import blank_of, levers
from limbfe.studies.size.even import size_evenly
from limbfe.studies.size.even_search import EVEN
from limbfe.studies.size.recut import columns_of, recut
from limbfe.studies.size.wanted import Wanted
from limbfe.units import METRIC

from .make import CASES, coarse_ash


@pytest.fixture(scope="module")
def ash(tmp_path_factory):
    return read_case(coarse_ash(tmp_path_factory.mktemp("ash")))


@pytest.fixture(scope="module")
def evened(ash):
    return size_evenly(ash, Wanted(weight=150.0, draw_length=0.7, allowance=0.002))


def test_weight_and_evenness(evened):
    assert evened.after.force == pytest.approx(150.0, rel=5e-4)
    assert evened.spread < EVEN
    # Nowhere between the stations, nor at the tips, is the wood worked harder than at them.
    assert evened.after.used.max() < (1.0 + EVEN) * evened.after.peaks(evened.x)[evened.level].min()


def test_exact_derivatives_bring_it_there_in_few_bows(evened):
    assert evened.rounds <= 9


def test_grip_stays_and_tips_keep_their_least_thickness(evened):
    assert evened.thickness[~evened.free] == pytest.approx(evened.thickness_now[~evened.free])
    assert evened.thickness[[0, -1]] == pytest.approx(0.010)
    assert evened.thickness.min() == pytest.approx(0.0099)


def test_shavings_come_off_the_blank(evened):
    off = evened.thickness_now - evened.thickness
    assert evened.shaving[evened.free] == pytest.approx(off[evened.free] + 0.002)
    grip = np.abs(evened.x) < 0.05
    assert evened.shaving[grip] == pytest.approx(0.0)


def test_the_lower_limb_becomes_the_stiffer(evened):
    """The hand presses below the arrow, so the lower limb is loaded more (common practice)."""
    x, thickness = evened.x, evened.thickness
    for at in (0.17, 0.3, 0.435, 0.57):
        assert thickness[np.isclose(x, -at)] > thickness[np.isclose(x, at)]


@pytest.mark.slow
def test_a_heavier_bow_than_there_is_wood_for(ash):
    with pytest.raises(CaseError, match="too little wood") as refused:
        size_evenly(ash, Wanted(weight=205.0, draw_length=0.7))
    nearest = float(str(refused.value).split("possible is ")[1].split(" N")[0])
    sized = size_evenly(ash, Wanted(weight=nearest, draw_length=0.7))
    assert -1e-5 < sized.shaving[sized.level].min() < 1e-4


def test_tips_thicker_than_the_blank_are_refused(ash):
    with pytest.raises(CaseError, match="--tip"):
        size_evenly(ash, Wanted(weight=150.0, draw_length=0.7, tip=0.012))


def test_stiff_tips_are_left_alone(ash):
    columns = columns_of(ash)
    thick = columns["thickness"].copy()
    thick[[0, 1, -2, -1]] = 0.014
    stave = build_setup(recut(ash, {"thickness": thick})).stave
    blank = blank_of(stave, tips_stay=True)
    assert not blank.free[[0, 1, -2, -1]].any()
    assert blank.free[[2, 3, -4, -3]].all()
    assert blank.least[2] < 0.005


def test_a_recurve_with_a_stiff_tip_is_left_alone_from_where_it_begins():
    """Its base is thinner than the tip, and was thinned further than the limb before it."""
    stave = build_setup(read_case(CASES / "ash_recurve.toml")).stave
    begun = np.abs(stave.x) > 0.68
    assert np.array_equal(recurved(stave), begun)
    assert np.array_equal(blank_of(stave, tips_stay=True).free, (np.abs(stave.x) > 0.1) & ~begun)
    reflexed = build_setup(read_case(CASES / "yew_reflex.toml")).stave
    assert not recurved(reflexed).any()
    assert not levers(reflexed).any()
    # in a blank as thick all along, too, which has no stiff tip
    blank = replace(stave, thickness=np.full_like(stave.x, 0.016))
    assert np.array_equal(levers(blank), begun)
    assert not levers(replace(blank, reflex=np.zeros_like(stave.x))).any()


@pytest.mark.slow
def test_a_rough_recurve_becomes_no_whip(tmp_path):
    """Taken down from half as thick again, it comes out as a recurve is made, not at a floor."""
    text = (CASES / "ash_recurve.toml").read_text().replace("steps = 30", "steps = 8")
    path = tmp_path / "recurve.toml"
    path.write_text(text.replace("elements_per_limb = 24", "elements_per_limb = 8\nfineness = 0.5"))
    made = read_case(path)
    columns = columns_of(made)["thickness"]
    rough = recut(made, {"thickness": 1.5 * columns})
    sized = size_evenly(rough, Wanted(weight=160.0, draw_length=0.5461))
    recurve = np.abs(sized.x) > 0.68
    # between the shipped bow's and a tenth more, all of it by one factor
    assert np.ptp(sized.thickness[recurve] / columns[recurve]) < 1e-3
    assert 1.0 < sized.thickness[-1] / columns[-1] < 1.15
    assert sized.spread < EVEN
    assert sized.after.solved.full_draw.stable
    assert "taken down less than even strain would" in size_sentence(sized, METRIC)
    asked = size_evenly(rough, Wanted(weight=160.0, draw_length=0.5461, tip=0.009))
    assert asked.thickness[-1] == pytest.approx(0.009, abs=1e-5)
