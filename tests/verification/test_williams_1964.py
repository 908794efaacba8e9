"""Rigid-jointed shallow toggle with clamped feet under an apex load.

F. W. Williams, An approach to the non-linear behaviour of the members of a rigid jointed plane
framework with finite deflections, Q. J. Mech. Appl. Math. 17 (1964), 451-469 (data from memory).
Targets: independent planar Reissner shooting solution of the same data, recomputed.
"""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.beam import Chain

from ..beam.statics import Loads, follow_load


def test_load_against_apex_displacement():
    span, rise, EA, EI, m = 12.943, 0.386, 1.885e6, 9.27e3, 24
    x = np.linspace(-span, span, 2 * m + 1)
    positions = np.column_stack([x, rise * (1.0 - np.abs(x) / span), 0 * x])
    slope = np.arctan2(rise, span)
    stiffness = []
    for angle in (slope, -slope):
        c, s = np.cos(angle), np.sin(angle)
        turn = np.kron(np.eye(2), np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]))
        member = turn @ np.diag([EA, 1e3 * EA, 1e3 * EA, EI, EI, EI]) @ turn.T
        stiffness += [member] * m
    chain = Chain(
        positions=positions,
        rotations=np.broadcast_to(np.eye(3), (2 * m + 1, 3, 3)),
        stiffness=np.repeat(np.array(stiffness)[:, None], 2, axis=1),
        mass=np.broadcast_to(np.eye(6), (2 * m, 2, 6, 6)),
    )
    fixed = np.zeros((2 * m + 1, 6), dtype=bool)
    fixed[:, 2:5] = True
    fixed[[0, -1]] = True
    dead = np.zeros((2 * m + 1, 6))
    dead[m, 1] = -1.0
    table = {0.10: 25.201325, 0.20: 33.491862, 0.24: 33.842020, 0.40: 31.283552, 0.60: 53.285291}
    states = follow_load(
        chain, fixed, Loads(dead=dead, follower=0 * dead), -np.array(list(table)),
        controlled=(m, 1),
    )  # fmt: skip
    assert [state.factor for state in states] == pytest.approx(list(table.values()), rel=1e-4)
