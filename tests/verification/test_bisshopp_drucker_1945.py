"""Large deflection of a cantilever under a dead tip force.

K. E. Bisshopp, D. C. Drucker, Large deflection of cantilever beams, Quart. Appl. Math. 3 (1945),
272-275 (formulae from memory), evaluated with elliptic integrals and confirmed by an independent
shooting solution; K. Mattiasson, Numerical results from large deflection beam and frame problems
analysed by means of elliptic integrals, Int. J. Numer. Meth. Engng 17 (1981), 145-153, Table 1
(read second-hand: 0.30172, 0.05643, 0.46135 at 1; 0.81061, 0.55500 at 10).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc, ellipk, ellipkinc

from limbfe.beam import Chain

from ..beam.statics import Loads, follow_load


def closed_form(load: float) -> tuple[float, float, float]:
    """w/L, u/L and tip slope for P L^2/EI = load."""

    def terms(slope: float) -> tuple[float, float]:
        m = 0.5 * (1.0 + np.sin(slope))
        phi = np.arcsin(1.0 / np.sqrt(2.0 * m))
        return m, phi

    def gap(slope: float) -> float:
        m, phi = terms(slope)
        return ellipk(m) - ellipkinc(phi, m) - np.sqrt(load)

    slope = brentq(gap, 1e-9, np.pi / 2 - 1e-12, xtol=1e-15)
    m, phi = terms(slope)
    deflection = 1.0 - 2.0 * (ellipe(m) - ellipeinc(phi, m)) / np.sqrt(load)
    return deflection, 1.0 - np.sqrt(2.0 * np.sin(slope) / load), slope


def cantilever(elements: int, stiffness: np.ndarray) -> Chain:
    """Straight cantilever of length 1 in a skew direction."""
    axes = np.linalg.qr(np.array([[1.0, 0.2, 0.3], [0.4, 1.0, -0.1], [-0.2, 0.5, 1.0]]))[0]
    axes *= np.sign(np.linalg.det(axes))
    x = np.linspace(0.0, 1.0, elements + 1)
    return Chain(
        positions=np.outer(x, axes[:, 0]),
        rotations=np.broadcast_to(axes, (elements + 1, 3, 3)),
        stiffness=np.broadcast_to(stiffness, (elements, 2, 6, 6)),
        mass=np.broadcast_to(np.eye(6), (elements, 2, 6, 6)),
    )


def tip(chain: Chain, loads: list[float]) -> list[tuple[float, float, float]]:
    """Deflection, shortening and slope of the tip under forces along section z."""
    n = len(chain.positions)
    axes = chain.rotations[0]
    fixed = np.zeros((n, 6), dtype=bool)
    fixed[0] = True
    dead = np.zeros((n, 6))
    dead[-1, :3] = axes[:, 2]
    states = follow_load(chain, fixed, Loads(dead=dead, follower=np.zeros((n, 6))), loads)
    out = []
    for state in states:
        u = axes.T @ (state.positions[-1] - chain.positions[-1])
        tangent = axes.T @ state.rotations[-1][:, 0]
        out.append((u[2], -u[0], np.arctan2(tangent[2], tangent[0])))
    return out


def test_closed_form_gives_the_printed_table():
    assert closed_form(1.0) == pytest.approx((0.30172, 0.05643, 0.46135), abs=6e-6)
    assert closed_form(10.0)[:2] == pytest.approx((0.81061, 0.55500), abs=6e-6)


def test_twenty_elements_follow_the_elastica():
    # Stretch and shear of order EI/(EA L^2) = 1e-8 are below the tolerance; the error of the
    # element falls as h^4 (see the convergence test) and is largest at the highest load.
    chain = cantilever(20, np.diag([1e8, 1e8, 1e8, 0.7, 1.0, 3.0]))
    loads = [0.2, 1.0, 2.0, 5.0, 10.0, 20.0]
    for load, found in zip(loads, tip(chain, loads), strict=True):
        assert found == pytest.approx(closed_form(load), rel=5e-5), load


def test_eighty_elements_agree_to_seven_digits():
    chain = cantilever(80, np.diag([1e8, 1e8, 1e8, 0.7, 1.0, 3.0]))
    loads = [0.4, 3.0, 10.0]
    for load, found in zip(loads, tip(chain, loads), strict=True):
        assert found == pytest.approx(closed_form(load), rel=3e-7), load


def test_one_element_is_exact_for_a_small_tip_force_and_does_not_lock():
    # P L^3/3EI + P L/GA, slender and stubby
    for shear in (1e6, 3.0):
        found = tip(cantilever(1, np.diag([1e6, shear, shear, 0.7, 1.0, 3.0])), [1e-3])[0]
        assert found[0] == pytest.approx(1e-3 * (1.0 / 3.0 + 1.0 / shear), rel=1e-6)
