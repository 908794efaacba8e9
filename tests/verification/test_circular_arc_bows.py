"""Bows whose strung limbs are exact circular arcs, and a uniform bow by shooting.

Manufactured solutions: with the limb's shape an arc of radius R from a rigid grip of half length
g, statics gives the moment ``M(s) = T h(s)`` of the string's tension about every station, hence
the stiffness ``EI(s) = T h(s) R`` that makes the arc an equilibrium (closed form, no source
beyond statics).  The uniform bow is an independent elastica shooting solution (rtol 1e-12),
recomputed.  Inextensible limbs without shear and an inextensible string.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from limbfe.beam import Bow, BowState, BowString, Chain, Hold, brace, draw, gauss_positions

GRIP, LIMB = 0.1, 0.75


def bow(bending: Callable[[np.ndarray], np.ndarray], elements: int) -> Bow:
    """Two limbs with EI given against the distance s from the grip's edge."""
    # nodes closer together towards the tip, where EI falls to zero
    s = LIMB * (1.0 - (1.0 - np.linspace(0.0, 1.0, elements + 1)) ** 1.5)
    x = np.concatenate([-(GRIP + s)[::-1], GRIP + s])
    EI = bending(np.clip(np.abs(gauss_positions(x)) - GRIP, 0.0, LIMB))
    n = len(x)
    stiffness = np.zeros((n - 1, 2, 6, 6))
    for i, factor in enumerate([4e7, 4e7, 4e7, 1.0, 1.0, 3.0]):
        stiffness[..., i, i] = factor * EI
    up = np.array([[0.0, 0.0, -1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])
    return Bow(
        chain=Chain(
            positions=np.column_stack([0 * x, 0 * x, x]),
            rotations=np.broadcast_to(up, (n, 3, 3)),
            stiffness=stiffness,
            mass=np.broadcast_to(np.eye(6), stiffness.shape),
        ),
        clamped=(elements, elements + 1),
        string=BowString(
            stiffness=np.inf, mass=0.0, nock_lower=np.zeros(3), nock_upper=np.zeros(3)
        ),
        hold=Hold(kind="clamp", point=np.zeros(3)),
        grip_belly=np.zeros(3),
        grip_back=np.zeros(3),
        arrow_z=0.0,
    )


def drawn_arc(R: float, D: float, EI_root: float) -> tuple[Callable, dict[str, float]]:
    """EI(s) and exact figures of a bow whose limbs are arcs of radius R at draw D."""
    phi = LIMB / R
    tip = np.array([R * (1.0 - np.cos(phi)), GRIP + R * np.sin(phi)])
    S = np.hypot(D - tip[0], tip[1])
    u = np.array([D - tip[0], -tip[1]]) / S

    def lever(s: np.ndarray) -> np.ndarray:
        near, far = (LIMB - s) / (2.0 * R), (LIMB + s) / (2.0 * R)
        dx, dy = 2.0 * R * np.sin(near) * np.sin(far), 2.0 * R * np.sin(near) * np.cos(far)
        return dy * u[0] - dx * u[1]

    T = EI_root / R / lever(np.zeros(1))[0]
    figures = {"T": T, "force": 2.0 * T * u[0], "string": 2.0 * S, "x": tip[0], "y": tip[1]}
    return lambda s: np.maximum(T * lever(s) * R, 1e-6 * EI_root), figures


def tip_of(state: BowState) -> np.ndarray:
    return state.positions[-1][[0, 2]]


def test_arc_at_full_draw():
    bending, exact = drawn_arc(0.8, 0.7, 100.0)
    assert exact["force"] == pytest.approx(192.87034526, rel=1e-10)
    assert exact["T"] == pytest.approx(215.16842277, rel=1e-10)
    limb = bow(bending, 40)
    braced = brace(limb, length=exact["string"])
    full = draw(limb, braced, [0.35, 0.45, 0.55, 0.62, 0.7]).states
    # independent forward solution of the same bow at the states on the way
    assert braced.brace_height == pytest.approx(0.13298025, rel=1e-4)
    assert braced.string_tension == pytest.approx([298.06576] * 2, rel=1e-4)
    forces = [state.draw_force for state in full]
    target = [77.91014191, 106.00438679, 136.86074594, 161.17715917, 192.87034526]
    assert forces == pytest.approx(target, rel=2e-5)
    assert tip_of(full[-1]) == pytest.approx([exact["x"], exact["y"]], rel=2e-5)
    assert full[-1].string_tension == pytest.approx([exact["T"]] * 2, rel=2e-5)
    assert full[-1].strain_energy == pytest.approx(65.47350520, rel=2e-5)
    # the curvature is the same everywhere but in the last element, where EI falls to zero
    curvature = full[-1].strains[41:-1, :, 4]
    assert curvature == pytest.approx(np.full_like(curvature, 1.25), rel=2e-3)


def test_five_elements_per_limb_are_within_a_thousandth():
    bending, exact = drawn_arc(0.8, 0.7, 100.0)
    limb = bow(bending, 5)
    state = draw(limb, brace(limb, length=exact["string"]), [0.7])[0]
    assert state.draw_force == pytest.approx(exact["force"], rel=1e-3)


def test_arc_when_braced():
    R, EI_root = 1.5, 100.0
    phi = LIMB / R
    height = R * (1.0 - np.cos(phi))
    T = EI_root / R / height

    def bending(s: np.ndarray) -> np.ndarray:
        lever = 2.0 * R * np.sin((LIMB - s) / (2 * R)) * np.sin((LIMB + s) / (2 * R))
        return np.maximum(T * lever * R, 1e-6 * EI_root)

    assert pytest.approx(363.05648224, rel=1e-9) == T
    state = brace(bow(bending, 40), height=height)
    assert state.string_tension == pytest.approx([T, T], rel=2e-5)
    assert state.string_lengths.sum() == pytest.approx(1.6382766158, rel=2e-6)
    assert state.strain_energy == pytest.approx(22.12879597, rel=2e-5)
    assert tip_of(state) == pytest.approx([0.1836261572, 0.8191383079], rel=2e-5)


UNIFORM = {
    0.30: (51.27291664, 191.66897351, 0.18931871, 0.82006457, 15.94052347),
    0.40: (76.10813694, 177.57068669, 0.22266363, 0.80827474, 22.32658729),
    0.50: (100.80304255, 174.23530957, 0.26062683, 0.79212167, 31.16119616),
    0.60: (127.71407190, 176.66845845, 0.30089909, 0.77155356, 42.56154826),
    0.70: (158.54286430, 183.43614370, 0.34239812, 0.74624201, 56.83416181),
}


def test_uniform_limbs_braced_and_drawn():
    limb = bow(lambda s: np.full_like(s, 60.0), 40)
    braced = brace(limb, length=1.655)
    # the brace height of a given string is the most sensitive figure
    assert braced.brace_height == pytest.approx(0.16384072, rel=2e-5)
    assert braced.string_tension == pytest.approx([267.20509920] * 2, rel=2e-5)
    assert braced.strain_energy == pytest.approx(11.93336432, rel=3e-5)
    for state, row in zip(draw(limb, braced, list(UNIFORM)).states, UNIFORM.values(), strict=True):
        force, tension, x, y, energy = row
        assert state.draw_force == pytest.approx(force, rel=1e-5)
        assert state.string_tension == pytest.approx([tension] * 2, rel=1e-5)
        assert tip_of(state) == pytest.approx([x, y], rel=1e-5)
        assert state.strain_energy == pytest.approx(energy, rel=1e-5)
