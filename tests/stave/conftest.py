"""A stave that is unequal in every respect, so that a swap shows."""

import numpy as np
import pytest

from limbfe.stave import Stave
from limbfe.stave.stave import Grain, Outline
from limbfe.wood import make_wood

X = np.array([-0.86, -0.63, -0.47, -0.28, -0.12, -0.05, 0.0, 0.06, 0.11, 0.3, 0.48, 0.66, 0.84])
BASE = {
    "x": X,
    "width": np.array([11, 21, 26, 31, 34, 31, 30, 30, 35, 32, 27, 20, 12]) * 1e-3,
    "thickness": np.array([12, 16, 19, 21, 24, 30, 34, 32, 24, 22, 19.5, 16.5, 13]) * 1e-3,
    "sapwood": np.array([3, 4, 5, 6, 6, 6, 6, 6, 6, 6.5, 5.5, 5, 4]) * 1e-3,
    "lean": np.deg2rad([0, -2, -3, 1, 0, 0, 0, 0, 2, 4, 4, 3, 0]),
    "backing": np.zeros(13),
    "reflex": np.array([24, 12, 5, 1, 0, 0, 0, 0, 0, 2, 8, 18, 30]) * 1e-3,
    "sideways": np.array([0, 1, 2, 1, 0, 0, 0, 0, 0, 1, 1, -2, 0]) * 1e-3,
    "twist": np.deg2rad([-7, -4, -2, 0, 0, 0, 0, 0, 0, 1, 3, 4, 5]),
    "crown": 0.09,
    "belly": "round",
    "belly_corner": 0.0,
    "ring_radius": 0.11,
    "run_out": 0.04,
    "sideways_grain": -0.02,
    "spiral": 0.05,
    "knots": (),
    "decays": (),
    "stiff_length": 0.1,
}


def elm(name, **given):
    return make_wood(name=name, species="rock elm", moisture=0.09, given=given, cov={})


@pytest.fixture(scope="session")
def woods():
    return {
        "heartwood": elm("heartwood"),
        "sapwood_wood": elm("sapwood", E_L=9.4e9, density=610.0, tension_strength=140e6),
        "backing_wood": None,
    }


@pytest.fixture(scope="session")
def make_stave(woods):
    """Return a maker of staves: the base stave with some attributes changed."""

    def make(**changes):
        given = BASE | woods | changes
        outline = {name: given.pop(name) for name in ("crown", "belly", "belly_corner")}
        slopes = ("ring_radius", "run_out", "sideways_grain", "spiral")
        grain = {name: given.pop(name) for name in slopes}
        return Stave(**given, outline=Outline(**outline), grain=Grain(**grain))

    return make


@pytest.fixture(scope="session")
def make_plain(make_stave):
    """Return a maker of straight staves of one wood and straight grain."""

    def make(**changes):
        zero = np.zeros(len(changes.get("x", X)))
        names = ("sapwood", "lean", "backing", "reflex", "sideways", "twist")
        plain = dict.fromkeys(names, zero)
        plain |= {"crown": np.inf, "belly": "flat", "ring_radius": np.inf}
        plain |= {"run_out": 0.0, "sideways_grain": 0.0, "spiral": 0.0, "sapwood_wood": None}
        return make_stave(**(plain | changes))

    return make
