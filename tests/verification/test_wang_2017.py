"""Cantilever of a fully coupled composite section under a dead tip force.

Q. Wang, M. A. Sprague, J. Jonkman, N. Johnson, B. Jonkman, BeamDyn: a high-fidelity wind turbine
blade solver in the FAST modular framework, Wind Energy 20 (2017), 1439-1462: tip displacement
-0.0902726627566, -0.0647488486259, 1.22973648292371 in for 150 lbf (read in the test suite of an
open-source implementation); an independent rod shooting solution gives the same twelve digits.
"""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.beam import Chain

from ..beam.statics import Loads, follow_load


def test_tip_displacement():
    stiffness = np.zeros((6, 6))
    stiffness[:3, :3] = np.diag([1368.17e3, 88.56e3, 38.78e3])
    stiffness[3:, 3:] = 1e3 * np.array(
        [[16.96, 17.61, -0.351], [17.61, 59.12, -0.370], [-0.351, -0.370, 141.47]]
    )
    n = 65
    x = np.linspace(0.0, 10.0, n)
    chain = Chain(
        positions=np.column_stack([x, 0 * x, 0 * x]),
        rotations=np.broadcast_to(np.eye(3), (n, 3, 3)),
        stiffness=np.broadcast_to(stiffness, (n - 1, 2, 6, 6)),
        mass=np.broadcast_to(np.eye(6), (n - 1, 2, 6, 6)),
    )
    fixed = np.zeros((n, 6), dtype=bool)
    fixed[0] = True
    dead = np.zeros((n, 6))
    dead[-1, 2] = 150.0
    state = follow_load(chain, fixed, Loads(dead=dead, follower=0 * dead), [1.0])[0]
    u = state.positions[-1] - chain.positions[-1]
    # second order in the element length: 1.0e-5 with 64 elements
    assert u == pytest.approx([-0.0902726627566, -0.0647488486259, 1.22973648292371], rel=2e-5)
