"""Shear-flexible cantilever and general end moments.

K. Nachbagauer, A. Pechstein, H. Irschik, J. Gerstmayr, A new locking-free formulation for planar,
shear deformable, linear and quadratic beam finite elements based on the absolute nodal coordinate
formulation, Multibody Syst. Dyn. 26 (2011), 245-263: published finest-mesh values 1.88847418e-7,
8.09900305e-4 and 0.15097103, 0.71056837 (read).  Targets below are an independent planar Reissner
shooting solution, recomputed (rtol 1e-11).
"""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.beam import Chain

from ..beam.statics import Loads, follow_load

E, NU, L = 2.07e11, 0.3, 2.0
G = E / (2.0 * (1.0 + NU))


def chain_of(stiffness: np.ndarray, elements: int) -> Chain:
    x = np.linspace(0.0, L, elements + 1)
    return Chain(
        positions=np.column_stack([x, 0 * x, 0 * x]),
        rotations=np.broadcast_to(np.eye(3), (elements + 1, 3, 3)),
        stiffness=np.broadcast_to(stiffness, (elements, 2, 6, 6)),
        mass=np.broadcast_to(np.eye(6), (elements, 2, 6, 6)),
    )


def tip_movement(chain: Chain, load: np.ndarray) -> np.ndarray:
    n = len(chain.positions)
    fixed = np.zeros((n, 6), dtype=bool)
    fixed[0] = True
    dead = np.zeros((n, 6))
    dead[-1] = load
    state = follow_load(chain, fixed, Loads(dead=dead, follower=np.zeros((n, 6))), [1.0])[0]
    return state.positions[-1] - chain.positions[-1]


@pytest.mark.parametrize(
    ("force", "u_x", "u_y"),
    [(62.5e3, -1.8884916253e-07, 8.0990325398e-04), (62.5e6, -0.150971144, 0.710568598)],
)
def test_transverse_force(force: float, u_x: float, u_y: float):
    h, w = 0.5, 0.1
    shear = 10.0 * (1.0 + NU) / (12.0 + 11.0 * NU) * G * h * w
    bend = E * w * h**3 / 12.0
    chain = chain_of(np.diag([E * h * w, shear, shear, 1e8, E * h * w**3 / 12.0, bend]), 100)
    u = tip_movement(chain, np.array([0.0, force, 0, 0, 0, 0]))
    assert u[1] == pytest.approx(u_y, rel=1e-6)
    assert u[0] == pytest.approx(u_x, rel=1e-6)


def test_dead_moments_about_two_axes():
    h, w = 0.2, 0.4
    Iy, Iz = h * w**3 / 12.0, w * h**3 / 12.0
    stiffness = np.diag(
        [E * h * w, 0.8331 * G * h * w, 0.7961 * G * h * w, 0.5768 * G * (Iy + Iz), E * Iy, E * Iz]
    )
    u = tip_movement(chain_of(stiffness, 256), np.array([0.0, 0, 0, 0.5e6, 2e6, 0]))
    target = [-1.09437986e-04, -1.86436456e-04, -1.81174027e-02]
    # u_y is of second order and carries the whole discretisation error, 2e-4 with 64 elements
    assert u == pytest.approx(target, rel=2e-5)
