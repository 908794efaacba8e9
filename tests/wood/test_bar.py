"""How near a bar is to breaking when its belly is shortened so far."""

import numpy as np
import pytest

from limbfe.wood import make_wood, species_names
from limbfe.wood.bar import HOLDS, WRINKLES, bar_of, bent_bar, strength_reached, wrinkled_at
from limbfe.wood.belly import BellyLaw, bending_strength, crushed_strain


def wood(name):
    return make_wood(name="bar", species=name, moisture=0.09, given={}, cov={})


def law_of(made):
    s = made.strength
    return BellyLaw(
        modulus=made.elasticity.E_L,
        crushing=s.compression,
        limit=s.compression_proportional_limit,
        plateau=s.compression_plateau,
    )


@pytest.mark.parametrize("name", species_names())
def test_the_share_rises_all_the_way_and_on_past_one(name):
    bar = bar_of(wood(name))
    far = float(bar.broken)
    strain = np.concatenate([np.linspace(0.0, far, 400), [1.2 * far]])
    one = bent_bar(*[law_of(wood(name)), wood(name).strength.tension])
    share = np.array([float(strength_reached(one, np.array(e))) for e in strain])
    assert share[0] == 0.0
    assert np.diff(share).min() > 0.0
    assert share[-2] == pytest.approx(1.0, rel=1e-9)
    assert share[-1] == pytest.approx(1.2, rel=1e-9)


@pytest.mark.parametrize("name", ["black cherry", "European elm", "pecan", "eastern redcedar"])
def test_the_bar_breaks_at_its_bending_strength(name):
    """Where the back tears before the belly is at its end, against the law's own bar."""
    made = wood(name)
    bar = bar_of(made)
    assert bar.broken < HOLDS * crushed_strain(made.elasticity.E_L, law_of(made).plateau)
    expected = bending_strength(law_of(made), made.strength.tension)
    assert float(bar.strength) == pytest.approx(expected, rel=2e-3)


def test_short_of_its_limit_the_share_is_the_elastic_stress():
    """Where nothing is crushed the nominal stress of the bar is E times the strain."""
    made = wood("rock elm")
    bar, strain = bar_of(made), np.array(0.2e-2)
    share = float(strength_reached(bar, strain)) * float(bar.strength)
    assert share == pytest.approx(made.elasticity.E_L * 0.2e-2, rel=1e-9)


def test_bars_of_many_points_are_those_of_each():
    names = ("yew", "rock elm", "black cherry")
    laws = [law_of(wood(name)) for name in names]
    stacked = BellyLaw(
        **{
            key: np.array([getattr(law, key) for law in laws])
            for key in ("modulus", "crushing", "limit", "plateau")
        }
    )
    bars = bent_bar(stacked, np.array([wood(name).strength.tension for name in names]))
    strain = np.array([0.011, 0.004, 0.03])
    share = strength_reached(bars, strain)
    for k, name in enumerate(names):
        assert share[k] == pytest.approx(float(strength_reached(bar_of(wood(name)), strain[k])))
    picked = bars.pick(np.array([2]))
    assert strength_reached(picked, strain[2:]) == pytest.approx(share[2:])


def test_wrinkles_come_first_in_the_woods_known_for_them():
    """Common practice: cherry and juniper fret, ash, hickory and yew bear more."""
    at = {
        name: float(wrinkled_at(bar_of(wood(name))))
        for name in ("black cherry", "juniper", "white ash", "hickory", "yew", "Osage orange")
    }
    bar = bar_of(wood("hickory"))
    assert float(strength_reached(bar, np.array(at["hickory"]))) == pytest.approx(WRINKLES)
    early = max(at["black cherry"], at["juniper"])
    assert early < 0.9 * min(at[name] for name in ("white ash", "hickory", "yew", "Osage orange"))


def test_a_bar_is_broken_at_about_twice_the_wrinkles():
    """Which is said of bellies in advice (`limbfe.analysis.zones.advice`) and in README."""
    ratios = [bar.broken / wrinkled_at(bar) for bar in map(bar_of, map(wood, species_names()))]
    assert min(ratios) > 1.8
    assert max(ratios) < 2.35
