"""What the models take for granted, with its flag."""

from dataclasses import replace
from pathlib import Path

import pytest

from limbfe.analysis.cautions import model_assumptions
from limbfe.analysis.traces import plane_strength
from limbfe.case.build import build_stave
from limbfe.case.load import read_case
from limbfe.failure.problem import Band
from limbfe.failure.windows import window_lengths
from limbfe.stave.knot_wood import EPOXY, FILLER_POISSON, KNOT_POISSON
from limbfe.wood import make_wood, species_names


@pytest.fixture(scope="module")
def stave():
    return build_stave(read_case(Path(__file__).parents[2] / "cases" / "elm_longbow.toml"))


def said(stave, state):
    knots = tuple(
        replace(knot, state=state, filler=EPOXY if state == "filled" else None)
        for knot in stave.knots
    )
    return model_assumptions(replace(stave, knots=knots))


def line(lines, words):
    (found,) = (one for one in lines if words in one)
    return found


def test_read_and_remembered_parts_of_the_chance_are_kept_apart(stave):
    """Of six correlations two were read in the code; specimen volumes are recalled."""
    lines = said(stave, "live")
    assert line(lines, "model scatter 10 %").endswith("(read)")
    remembered = line(lines, "four other correlations")
    assert "ASTM D143" in remembered
    assert remembered.endswith("(from memory)")


def test_every_figure_of_a_filling_is_listed(stave):
    lines = said(stave, "missing")
    epoxy = line(lines, "filling that is tried")
    assert "2.5 GPa" in epoxy
    assert "40 MPa" in epoxy
    assert "20 MPa" in epoxy
    assert "from memory" in epoxy
    assert "averaged over 2 mm" in epoxy
    assert "averaged over 2 mm" in line(said(stave, "filled"), "fillers: bond")
    assert Band().bond_window == 2e-3
    assert not [one for one in said(stave, "live") if "fill" in one]


def test_poisson_s_ratios_of_knots_and_fillers_have_a_flag(stave):
    assert f"ratio {KNOT_POISSON:g} of a knot" in line(said(stave, "live"), "Poisson")
    assert FILLER_POISSON == 0.35


def test_how_many_woods_have_the_shortest_fibre_window(stave):
    """The figure in the assumptions and in the README."""
    names = [name for name in species_names() if name != "hazel"]
    woods = [make_wood(name="w", species=name, moisture=None, given={}, cov={}) for name in names]
    lengths = [window_lengths(one.elasticity, plane_strength(one)).fibre for one in woods]
    low = Band().fibre_window[0]
    assert (sum(length < low for length in lengths), len(lengths)) == (20, 23)
    assert "20 of the 23" in line(said(stave, "live"), "windows:")
