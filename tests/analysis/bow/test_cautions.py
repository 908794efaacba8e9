"""Numbers far from practice are questioned (common practice); ordinary ones are not."""

from dataclasses import replace
from pathlib import Path

import pytest

from limbfe.analysis.bow.cautions import contradicting_wood, unusual
from limbfe.case.build import build_setup
from limbfe.case.load import read_case
from limbfe.wood import make_wood

TAPE = Path(__file__).parents[3] / "cases" / "from_a_tape.toml"


@pytest.fixture(scope="module")
def setup():
    return build_setup(read_case(TAPE))


def test_an_ordinary_bow_is_not_questioned(setup):
    assert unusual(setup, 0.1524, 0.7112) == ()


@pytest.mark.parametrize(
    ("brace_height", "length", "said"),
    [
        (0.4064, 0.7112, ("brace height of 406 mm", "4.00 in", "9.00 in")),
        (0.05, 0.7112, ("brace height of 50 mm",)),
        (0.1524, 0.33, ("13.0 in", "beyond brace")),
    ],
)
def test_a_slip_is_questioned_with_what_is_usual(setup, brace_height, length, said):
    (words,) = unusual(setup, brace_height, length)
    for part in said:
        assert part in str(words)


def test_a_toughness_that_contradicts_the_strength_is_told(setup):
    wood = setup.stave.heartwood
    assert contradicting_wood(setup.stave) == ()
    given = make_wood(
        name="heartwood",
        species=wood.species,
        moisture=None,
        given={"toughness_opening": 20.0},
        cov={},
    )
    stave = replace(setup.stave, heartwood=given)
    (words,) = contradicting_wood(stave)
    assert "[wood.heartwood] tension_strength_across and toughness_opening contradict" in str(words)
