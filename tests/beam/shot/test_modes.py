"""Frequencies of tapered cantilevers with a mass at the tip, of a string, of a braced bow.

Ω = ω L² √(ρA₀/EI₀) of linear tapers by a converged Ritz method (derived, 8 digits, apart from this
package); the string and the arrow on it are closed forms (any book on sound).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from limbfe.beam import Chain, brace, gauss_positions
from limbfe.beam.shot.modes import natural_modes, slowest_frequency
from limbfe.beam.shot.setup import Gear, chain_motion, limb_model, shot_model

from .march import rigid_limbs

TAPERS = {
    (1.0, 1.0, 0.1): (2.96783835, 19.35580101, 55.51824555, 110.70795),
    (0.5, 0.5, 0.0): (4.62515025, 19.54761318, 48.57889933, 91.812768),
    (0.4, 0.6, 0.0): (4.80842353, 20.83430895, 52.19629716, 98.913048),
    (0.4, 0.6, 0.1): (3.60302584, 16.51224655, 43.99361573, 86.820467),
    (0.25, 0.25, 0.0): (5.82306587, 18.47970477, 41.32134257, 74.944971),
}


def tapered(elements: int, width: float, depth: float, tip: float) -> np.ndarray:
    x = np.linspace(0.0, 1.0, elements + 1)
    g = gauss_positions(x)
    b, h = 1.0 - (1.0 - width) * g, 1.0 - (1.0 - depth) * g
    stiffness, mass = np.zeros((elements, 2, 6, 6)), np.zeros((elements, 2, 6, 6))
    # what Euler and Bernoulli leave out is below the ninth digit
    terms = [1e12 * b * h] * 3 + [1e5 * b * h**3, b * h**3, 1e5 * b**3 * h]
    for i, value in enumerate(terms):
        stiffness[..., i, i] = value
    for i, value in enumerate([b * h] * 3 + [1e-13 * b * h] * 3):
        mass[..., i, i] = value
    chain = Chain(
        positions=np.column_stack([x, 0 * x, 0 * x]),
        rotations=np.broadcast_to(np.eye(3), (elements + 1, 3, 3)),
        stiffness=stiffness,
        mass=mass,
    )
    motion = chain_motion(chain.rotations, chain.positions)
    model = limb_model(chain, motion, lower=0, upper=0)
    model.mass[-1, :3, :3] += tip * mass[..., 0, 0].sum() / (2.0 * elements) * np.eye(3)
    found = 2.0 * np.pi * natural_modes(model, motion, 8).frequency
    return found[found < 115.0][:4]


@pytest.mark.parametrize("taper", TAPERS)
def test_tapered_cantilevers_converge_to_eight_digits(taper: tuple):
    exact = np.array(TAPERS[taper])
    # a limb of 12 elements, as a bow has it, is within 6e-5 and 6e-4 of the first two
    few = tapered(12, *taper)
    assert few[:2] == pytest.approx(exact[:2], rel=6e-4)
    assert few[0] == pytest.approx(exact[0], rel=5e-5)
    meshes = [tapered(elements, *taper) for elements in (32, 64, 128)]
    order = np.log2((meshes[1] - meshes[0]) / (meshes[2] - meshes[1]))
    assert np.all((order > 2.95) & (order < 3.15))
    # masses on nodes: an error of the third power of the element's length, then of the fourth
    for power in (3, 4):
        meshes = [fine + (fine - coarse) / (2.0**power - 1.0) for coarse, fine in pairwise(meshes)]
    # the eighth digit of the fourth is the last that is given
    assert meshes[-1][:3] == pytest.approx(exact[:3], rel=5e-9)
    assert meshes[-1][3] == pytest.approx(exact[3], rel=5e-8)


def test_rigid_limbs_at_brace_swing_at_the_closed_frequency():
    # J w2 = k + EA h2/S0 - T L cos(theta), both limbs in step, string straight, no arrow
    bow = rigid_limbs(100e3)
    braced = brace(bow, height=0.15)
    model, motion = shot_model(bow, braced, Gear())
    found = natural_modes(model, motion, 4, extra=1e-5).frequency
    assert slowest_frequency(model, motion, 1e-5) == pytest.approx(found[0], rel=1e-9)
    theta = np.arcsin(0.15 / 0.75)
    rest = float(braced.string_lengths[0])
    square = 400.0 + 100e3 * 0.15**2 / rest - braced.string_tension[0] * 0.75 * np.cos(theta)
    # derived: 58.6 Hz
    closed = np.sqrt(square / 0.02) / (2.0 * np.pi)
    assert closed == pytest.approx(58.6, abs=0.05)
    assert np.abs(found / closed - 1.0).min() < 2e-3


def test_string_of_many_segments_rings_at_n_over_2l_root_t_over_mu():
    bow = rigid_limbs(100e3, string_mass=6e-3)
    braced = brace(bow, height=0.15)
    model, motion = shot_model(bow, braced, Gear(segments=24))
    # nocks that do not move: heavy tips
    model.mass[[0, -1]] += np.diag([1e3] * 6)
    found = natural_modes(model, motion, 36).frequency
    length, tension = float(np.ptp(motion.nocks[:, 2])), float(braced.string_tension[0])
    closed = 0.5 / length * np.sqrt(tension * length / 6e-3) * np.arange(1, 4)
    for one in closed:
        assert np.abs(found / one - 1.0).min() < 3e-3
