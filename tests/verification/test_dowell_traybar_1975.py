"""Cantilever loaded obliquely to its principal axes (the Princeton beam).

E. H. Dowell, J. J. Traybar, An experimental study of the nonlinear stiffness of a rotor blade
undergoing flap, lag and twist deformations (1975); data of the aluminium strip as used by
O. A. Bauchau et al., Multibody Syst. Dyn. (2015) and an open multibody code (stiffnesses read).
The measured values were not available; targets are an independent rod shooting solution of these
stiffnesses, recomputed (rtol 1e-11).
"""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.beam import Chain

from ..beam.statics import Loads, follow_load

P1, P2 = 4.448, 8.896
# (load, degrees from the stiff direction): axial, lag, flap, twist atan2(-R23, R33)
TABLE = {
    (P1, 0): (-0.00003391439588, 0.00535953937, 0.0, 0.0),
    (P1, 15): (-0.00054379, 0.00521016, 0.02080140, 0.00295142),
    (P1, 45): (-0.00374698, 0.00396516, 0.05605600, 0.00581852),
    (P1, 75): (-0.00680028, 0.00150300, 0.07557257, 0.00286938),
    (P1, 90): (-0.00726012, 0.0, 0.07808298, 0.0),
    (P2, 15): (-0.00224089, 0.01062577, 0.04212585, 0.01205456),
    (P2, 30): (-0.00766100, 0.01014726, 0.07945722, 0.02036089),
    (P2, 45): (-0.01438966, 0.00888889, 0.10904308, 0.02278014),
    (P2, 60): (-0.02047365, 0.00665439, 0.12992526, 0.01916607),
    (P2, 90): (-0.02602480, 0.0, 0.14626190, 0.0),
}


@pytest.mark.parametrize("case", TABLE)
def test_tip_displacement_and_twist(case: tuple[float, int]):
    load, degrees = case
    n = 97
    x = np.linspace(0.0, 0.508, n)
    # y is the stiff (chordwise) direction: EI chord bends about z, EI flap about y
    stiffness = np.diag([2.84191e6, 9.03881e5, 6.40131e5, 3.10338, 2.42873, 36.2794])
    chain = Chain(
        positions=np.column_stack([x, 0 * x, 0 * x]),
        rotations=np.broadcast_to(np.eye(3), (n, 3, 3)),
        stiffness=np.broadcast_to(stiffness, (n - 1, 2, 6, 6)),
        mass=np.broadcast_to(np.eye(6), (n - 1, 2, 6, 6)),
    )
    fixed = np.zeros((n, 6), dtype=bool)
    fixed[0] = True
    dead = np.zeros((n, 6))
    beta = np.radians(degrees)
    dead[-1, 1], dead[-1, 2] = load * np.cos(beta), load * np.sin(beta)
    state = follow_load(chain, fixed, Loads(dead=dead, follower=0 * dead), [1.0])[0]
    u = state.positions[-1] - chain.positions[-1]
    turn = state.rotations[-1]
    twist = np.arctan2(-turn[1, 2], turn[2, 2])
    axial, lag, flap, turned = TABLE[case]
    assert u == pytest.approx([axial, lag, flap], rel=3e-5, abs=1e-8)
    assert abs(twist) == pytest.approx(turned, rel=1e-4, abs=1e-8)
