"""Bows that the tangent modulus calls unstable and that stand by the fibres that unload."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.model import build_model
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.standing import LEAST_MARGIN, check_stands, standing_margin
from limbfe.analysis.bow.yielding import brace_with_yield, section_law, yielding_sections
from limbfe.api import read_case
from limbfe.beam.rates.variation import softest_modes
from limbfe.case.build import build_setup
from limbfe.errors import ConvergenceError
from limbfe.section.yielding.pressing import pressed_section
from limbfe.studies.size.recut import columns_of, recut

ELM = Path(__file__).parents[3] / "cases" / "elm_longbow.toml"


def elm(left: float):
    """The shipped elm, coarse, its sapwood taken off the outer thirds but for a share."""
    case = read_case(ELM)
    columns = columns_of(case)
    outer = np.abs(columns["station"]) > 0.62
    gone = np.where(outer, (1.0 - left) * columns["sapwood"], 0.0)
    cut = {name: columns[name] - gone for name in ("sapwood", "thickness")}
    setup = build_setup(recut(case, cut, case.file.draw.length))
    return adjust(setup, analysis={"fineness": 0.5}, drawing={"steps": 4})


def braced(setup):
    model = build_model(setup)
    section = yielding_sections(model.stations)
    state, pressed, cautions = brace_with_yield(model.bow, setup.stringing, section)
    return model.bow, state, pressed, cautions


@pytest.fixture(scope="module")
def thinned():
    return braced(elm(0.0))


@pytest.fixture(scope="module")
def margin(thinned):
    return standing_margin(*thinned[:3])


def test_a_bow_that_only_the_tangent_modulus_lets_give_way_stands_with_a_caution(thinned, margin):
    _, state, _, cautions = thinned
    assert state.gives_way == "in the plane"
    assert LEAST_MARGIN < margin < 0.9
    assert "stands only because crushed wood that is let go springs back" in cautions[0]
    assert f"{margin:.0%}" in cautions[0]


def test_the_least_stiffness_says_what_the_count_of_eigenvalues_says(thinned):
    """Below zero with the tangents of a state that gives way, above for the elastic bow."""
    bow, state, pressed, _ = thinned
    tangent = section_law(pressed_section(pressed.section))(state.strains)[1]
    assert softest_modes(bow, state, tangent, 1)[0][0] < 0.0
    assert softest_modes(bow, state, bow.chain.stiffness, 1)[0][0] > 0.0
    bow, state, pressed, cautions = braced(elm(1.0))
    assert state.gives_way is None
    assert cautions == ()
    tangent = section_law(pressed_section(pressed.section))(state.strains)[1]
    assert softest_modes(bow, state, tangent, 1)[0][0] > 0.0


def test_wood_that_is_nowhere_crushed_keeps_all_of_its_stiffness(thinned):
    bow, state, pressed, _ = thinned
    sound = replace(pressed, plastic=np.zeros_like(pressed.plastic))
    assert standing_margin(bow, state, sound) == pytest.approx(1.0, rel=1e-12)


def test_what_hardly_stands_is_refused(thinned, margin, monkeypatch):
    bow, state, pressed, _ = thinned
    monkeypatch.setattr("limbfe.analysis.bow.standing.standing_margin", lambda *_: margin)
    monkeypatch.setattr("limbfe.analysis.bow.standing.LEAST_MARGIN", 0.99)
    with pytest.raises(ConvergenceError, match=r"here the bow is not stable: in the plane"):
        check_stands(bow, state, pressed, "here")


def test_the_caution_comes_first_of_an_exercised_bow():
    solved = exercised_bow(elm(0.0), beyond=False)
    assert "springs back" in solved.warnings[0]
