"""What the models take for granted, with its flag."""

from dataclasses import replace
from pathlib import Path

import pytest

from limbfe.analysis.results.assumed import model_assumptions
from limbfe.analysis.zones.layer_wood import plane_strength
from limbfe.case.build import build_stave
from limbfe.case.load import read_case
from limbfe.failure.problem import Band
from limbfe.failure.windows import window_lengths
from limbfe.stave.knot_wood import EPOXY
from limbfe.wood import make_wood, species_names
from limbfe.wood.source import Flag


@pytest.fixture(scope="module")
def stave():
    return build_stave(read_case(Path(__file__).parents[3] / "cases" / "elm_longbow.toml"))


def said(stave, state):
    knots = tuple(
        replace(knot, state=state, filler=EPOXY if state == "filled" else None)
        for knot in stave.knots
    )
    return [str(one.words()) for one in model_assumptions(replace(stave, knots=knots))]


def line(lines, words):
    (found,) = (one for one in lines if words in one)
    return found


def test_read_and_remembered_parts_of_the_chance_are_kept_apart(stave):
    """Of six correlations two were read in the code; specimen volumes are recalled."""
    lines = said(stave, "live")
    assert line(lines, "model scatter 10 %").endswith(f"({Flag.READ.value})")
    for words in ("four other correlations", "ASTM D143"):
        assert line(lines, words).endswith(f"({Flag.MEMORY_FAIR.value})")


def test_every_figure_of_a_filling_is_listed(stave):
    lines = said(stave, "missing")
    epoxy = line(lines, "filling that is tried: E")
    for words in ("2.5 GPa", "40 MPa", "20 MPa", Flag.MEMORY_FAIR.value):
        assert words in epoxy
    assert "averaged over 2 mm" in line(lines, "filling that is tried: bond")
    assert "averaged over 2 mm" in line(said(stave, "filled"), "fillers: bond")
    assert not [one for one in said(stave, "live") if "fill" in one]


def test_how_many_woods_have_the_shortest_fibre_window(stave):
    """The figure in the assumptions and in the README."""
    names = species_names()
    woods = [make_wood(name="w", species=name, moisture=None, given={}, cov={}) for name in names]
    lengths = [window_lengths(one.elasticity, plane_strength(one)).fibre for one in woods]
    low = Band().fibre_window[0]
    assert (sum(length < low for length in lengths), len(lengths)) == (33, 36)
    assert "33 of the 36" in line(said(stave, "live"), "33 of the")
