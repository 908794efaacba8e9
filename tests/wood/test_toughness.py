"""The flaw that strength and toughness imply together; figures that contradict each other."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.wood import isotropic, make_wood, species_names
from limbfe.wood.toughness import crack_moduli, implied_flaw, toughness_notes


def ash(**given):
    return make_wood(name="whole", species="white ash", moisture=0.12, given=given, cov={})


def test_the_flaw_is_griffiths():
    """Glass of 70 GPa and 8 J/m2 that breaks at 50 MPa: G_c = s^2 pi a / E, so a is 71 um."""
    E_I, E_II = crack_moduli(isotropic(70e9, 0.2))
    assert implied_flaw(E_I, 8.0, 50e6) == pytest.approx(71.3e-6, rel=1e-3)
    assert pytest.approx(E_I) == E_II


def test_of_the_table_nothing_is_said():
    for name in species_names():
        wood = make_wood(name="whole", species=name, moisture=0.12, given={}, cov={})
        assert toughness_notes(wood) == ()


def test_figures_that_go_together_are_not_questioned():
    assert toughness_notes(ash(toughness_opening=300.0, tension_strength_across=5e6)) == ()
    assert toughness_notes(ash(toughness_sliding=2000.0)) == ()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"toughness_opening": 30.0}, "hardly feels"),
        ({"tension_strength_across": 30e6}, "hardly feels"),
        ({"toughness_opening": 5e3}, "held where clear wood splits by itself"),
        ({"toughness_sliding": 20e3}, "held where clear wood splits by itself"),
        ({"shear_strength": 60e6}, "hardly feels"),
    ],
)
def test_a_contradiction_is_said_with_what_would_fit(given, said):
    (words,) = toughness_notes(ash(**given))
    (name,) = given
    for part in ("[wood.whole]", said, f"check {name} and the unit"):
        assert part in str(words)


def test_what_is_said_to_fit_fits():
    """The strength that goes with a toughness, given in its place, is questioned no more."""
    given = {"toughness_opening": 5e3}
    wood = ash(**given)
    (words,) = toughness_notes(wood)
    E_I, _ = crack_moduli(wood.elasticity)
    fits = float(np.sqrt(E_I * 5e3 / (np.pi * 7e-3)))
    assert f"{fits / 1e6:.2g} MPa" in str(words)
    assert toughness_notes(ash(**given, tension_strength_across=fits)) == ()
