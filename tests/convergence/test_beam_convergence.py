"""Observed order of the beam element on the 1.8 m bow and on a bent-up bend."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.beam import Bow, BowString, Chain, Hold, brace, draw, gauss_positions

from ..beam.statics import Loads, follow_load

UP = np.array([[0.0, 0.0, -1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])


def tapered_bow(elements: int) -> Bow:
    """1.8 m, width 30 to 10 mm, thickness 24 to 12 mm from the grip's edge, E = 10 GPa."""
    x = np.linspace(0.05, 0.9, elements + 1)
    x = np.concatenate([-x[::-1], x])
    share = np.clip((np.abs(gauss_positions(x)) - 0.05) / 0.85, 0.0, 1.0)
    b, h = 0.030 - 0.020 * share, 0.024 - 0.012 * share
    stiffness = np.zeros((len(x) - 1, 2, 6, 6))
    for i, value in enumerate(
        [b * h, 1e3 * b * h, 1e3 * b * h, b * h**3 / 12, b * h**3 / 12, b**3 * h / 12]
    ):
        stiffness[..., i, i] = 10e9 * value
    zero = np.zeros(3)
    return Bow(
        chain=Chain(
            positions=np.column_stack([0 * x, 0 * x, x]),
            rotations=np.broadcast_to(UP, (len(x), 3, 3)),
            stiffness=stiffness,
            mass=stiffness,
        ),
        clamped=(elements, elements + 1),
        string=BowString(stiffness=100e3, mass=0.0, nock_lower=zero, nock_upper=zero),
        hold=Hold(kind="clamp", point=zero),
        grip_belly=zero,
        grip_back=zero,
        arrow_z=0.0,
    )


def full_draw_force(elements: int) -> float:
    bow = tapered_bow(elements)
    return float(draw(bow, brace(bow, height=0.15), [0.7]).force[0])


def test_draw_force_converges_and_twenty_elements_are_enough():
    forces = {m: full_draw_force(m) for m in (4, 8, 16, 20, 64)}
    errors = [abs(forces[m] / forces[64] - 1.0) for m in (4, 8, 16)]
    order = np.log2(np.array(errors[:-1]) / errors[1:])
    # smooth bending of a straight limb: the equilibrium transport makes it better than h^2
    assert np.all(order > 3.0)
    assert forces[20] == pytest.approx(forces[64], rel=2e-6)
    assert forces[20] == pytest.approx(274.656, rel=4e-6)


def test_space_bend_converges_with_the_square_of_the_length():
    exact = np.array([46.89158639033455, 15.557676239043788, 53.607986317517586])
    errors = []
    for m in (8, 16, 32):
        angle = np.linspace(0.0, np.pi / 4, m + 1)
        c, s, o = np.cos(angle), np.sin(angle), 0 * angle
        rotations = np.stack(
            [np.column_stack([c, s, o]), np.column_stack([-s, c, o]),
             np.column_stack([o, o, o + 1])], axis=2,
        )  # fmt: skip
        GA = 5e6 * 5.0 / 6.0
        stiffness = np.diag([1e7, GA, GA, 5e6 * 0.1405770150, 1e7 / 12.0, 1e7 / 12.0])
        chain = Chain(
            positions=100.0 * np.column_stack([s, 1.0 - c, o]),
            rotations=rotations,
            stiffness=np.broadcast_to(stiffness, (m, 2, 6, 6)),
            mass=np.broadcast_to(np.eye(6), (m, 2, 6, 6)),
        )
        fixed, dead = np.zeros((m + 1, 6), dtype=bool), np.zeros((m + 1, 6))
        fixed[0], dead[-1, 2] = True, 600.0
        state = follow_load(chain, fixed, Loads(dead=dead, follower=0 * dead), [1.0])[0]
        errors.append(np.linalg.norm(state.positions[-1] - exact))
    order = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all(order > 1.9)
