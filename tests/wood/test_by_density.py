"""Woods without figures of their own, and what a name that is not in the table leads to."""

import re

import numpy as np
import pytest

from limbfe.errors import MaterialError
from limbfe.wood import find_species, make_wood, species_names
from limbfe.wood.by_density import typical_woods
from limbfe.wood.source import Flag
from limbfe.wood.table import read_rules

TYPICAL = typical_woods()


def wood(species, moisture=0.12, **given):
    return make_wood(name="whole", species=species, moisture=moisture, given=given, cov={})


@pytest.mark.parametrize("typical", TYPICAL, ids=lambda one: one.name)
def test_a_wood_known_by_its_density_is_complete_and_says_so(typical):
    for name in (typical.name, *typical.aliases):
        made = wood(name)
        assert made.species == typical.name
        assert made.by_density
        assert made.density == pytest.approx(typical.density.value)
        assert made.sources["E_L"].flag.word.startswith("memory")
        assert f"no figures of {typical.name} were found" in str(made.notes[0])


@pytest.mark.parametrize(
    "name",
    ["plum", "birch", "hop hornbeam", "dogwood", "rowan", "hazel"],
)
def test_common_bow_woods_are_never_refused(name):
    assert wood(name, 0.09).by_density


@pytest.mark.parametrize("name", ["cherry", "juniper", "beech", "maple", "yew", "hickory"])
def test_kinds_with_one_measured_row_are_that_row(name):
    assert not wood(name).by_density


def test_no_name_stands_for_two_woods():
    rows = [find_species(name) for name in species_names()]
    names = [n.lower().replace("-", " ") for w in (*rows, *TYPICAL) for n in (w.name, *w.aliases)]
    assert len(names) == len(set(names))


def test_an_average_wood_of_a_density():
    """TM 5-852-4, Table 2-2, at G = 0.7: 25,700 x 0.7^1.25 psi, 2,800 x 0.7 ksi, 12,200 x 0.7."""
    dry = find_species("hardwood", density=784.0).dry
    assert dry["bending_strength"].value == pytest.approx(25700 * 0.7**1.25 * 6894.757, rel=1e-3)
    assert dry["bending_modulus"].value == pytest.approx(2.8e6 * 0.7 * 6894.757, rel=1e-3)
    assert dry["compression_strength"].value == pytest.approx(12200 * 0.7 * 6894.757, rel=1e-3)
    assert dry["bending_strength"].source.flag is Flag.DERIVED


@pytest.mark.parametrize("name", ["hardwood", "kwila", "Siberian elm"])
def test_any_name_will_do_with_a_density(name):
    made = wood(name, density=784.0)
    assert made.density == 784.0
    assert made.species == name
    assert pytest.approx(1.0644 * 13.51e9, rel=1e-3) == made.elasticity.E_L


def test_a_given_density_replaces_the_typical_one():
    light, typical = wood("plum", density=700.0), wood("plum")
    assert light.elasticity.E_L < typical.elasticity.E_L
    assert light.species == "plum"
    # 700 kg/m3 weighed damp is a lighter wood than 700 kg/m3 dry.
    assert wood("plum", 0.20, density=700.0).strength.bending < 0.8 * light.strength.bending


def test_conifers_have_the_ratios_of_a_conifer():
    soft, hard = wood("lodgepole pine", density=500.0), wood("linden", density=500.0)
    assert soft.elasticity.G_RT < 0.5 * hard.elasticity.G_RT


def test_a_near_spelling_is_named_even_with_a_density():
    assert any('nearest: "rock elm"' in str(note) for note in wood("rok elm", density=700.0).notes)


@pytest.mark.parametrize(("name", "count"), [("elm", 4), ("ash", 5), ("oak", 5)])
def test_several_kinds_are_offered_in_one_line_and_none_of_them_is_refused(name, count):
    for density in ({}, {"density": 640.0}):
        with pytest.raises(MaterialError, match=f'"{name}": there are several; name one') as caught:
            wood(name, **density)
        offered = re.findall(r'"([^"]+)"', str(caught.value))[1:]
        assert len(offered) == count
        for one in offered:
            wood(one)


@pytest.mark.parametrize("name", ["rok elm", "plumb", "japanese ash", "hedg", "cherri", "red"])
def test_a_hint_is_never_refused_next(name):
    with pytest.raises(MaterialError, match="nearest: ") as caught:
        wood(name)
    hints = re.search(r"nearest: (.*?); ", str(caught.value))[1]
    for one in re.findall(r'"([^"]+)"', hints):
        wood(one)


# FPL, Wood Handbook (2010), Table 5-3a, 12 %, second-hand: hardwoods that bows are not made of.
OTHERS = {
    "silver maple": (0.47, 7.9, 61, 36.0),
    "southern red oak": (0.59, 10.3, 75, 42.0),
    "bur oak": (0.64, 7.1, 71, 41.8),
    "yellow-poplar": (0.42, 10.9, 70, 38.2),
    "black willow": (0.39, 7.0, 54, 28.3),
}


def test_scatter_about_the_regression_is_what_the_rules_say():
    """30 hardwoods of the table and five others: the regression is right in the mean to 5 %."""
    rows = [find_species(name) for name in species_names()]
    keys = ("bending_modulus", "bending_strength", "compression_strength")
    measured = [
        (row.dry["density"].value, *(row.dry[key].value for key in keys))
        for row in rows
        if row.kind == "hardwood"
    ] + [(1120 * G, 1e9 * E, 1e6 * M, 1e6 * C) for G, E, M, C in OTHERS.values()]
    assert len(measured) == 35
    logs = []
    for density, *figures in measured:
        dry = find_species("hardwood", density=density).dry
        logs.append(
            [np.log(value / dry[key].value) for key, value in zip(keys, figures, strict=True)]
        )
    stated = read_rules()["density_scatter"]["cov"]
    expected = [stated[key] for key in ("E_L", *keys[1:])]
    np.testing.assert_allclose(np.std(logs, axis=0), expected, atol=0.01)
    np.testing.assert_allclose(np.exp(np.mean(logs, axis=0)), 1.0, atol=0.05)
