"""Uneven limbs held by hand, against SciPy's boundary-value solver, written independently.

Each limb is an inextensible, unshearable elastica from its grip edge to its nock; the two meet in
the string's two parts, whose tensions and directions follow from the nocking point.  The
nocking point's place and the tensions are found by a root search outside.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_bvp
from scipy.optimize import root

from limbfe.beam import Bow, BowString, Hold, brace, draw, gauss_positions, measure, own_frame

from ..make import straight_chain

GRIP = {-1: 0.06, 1: 0.04}
LENGTH = {-1: 0.76, 1: 0.84}
BACK, ARROW, HAND = -0.012, 0.03, np.array([0.013, -0.025])


def bending(sign: int, s: np.ndarray) -> np.ndarray:
    share = s / LENGTH[sign]
    return 150.0 * (1.0 - 0.8 * share) ** 2 if sign > 0 else 118.0 * (1.0 - 0.7 * share) ** 2.5


def uneven_bow(elements: int) -> Bow:
    lower = -GRIP[-1] - np.linspace(LENGTH[-1], 0.0, elements + 1)
    upper = GRIP[1] + np.linspace(0.0, LENGTH[1], elements + 1)
    x = np.concatenate([lower, upper])
    at = gauss_positions(x)
    EI = np.where(
        at < 0.0,
        bending(-1, np.clip(-at - GRIP[-1], 0.0, None)),
        bending(1, np.clip(at - GRIP[1], 0.0, None)),
    )
    stiffness = np.zeros((len(x) - 1, 2, 6, 6))
    for i, factor in enumerate([1e6, 1e6, 1e6, 0.8, 1.0, 2.0]):
        stiffness[..., i, i] = factor * EI
    return Bow(
        chain=straight_chain(x, stiffness),
        clamped=(elements, elements + 1),
        string=BowString(
            stiffness=np.inf, mass=0.0, nock_lower=np.zeros(3), nock_upper=np.zeros(3)
        ),
        hold=Hold(kind="hand", point=np.array([HAND[0], 0.0, HAND[1]])),
        grip_belly=np.array([0.013, 0.0, 0.0]),
        grip_back=np.array([BACK, 0.0, 0.0]),
        arrow_z=ARROW,
    )


def limb_tip(sign: int, force: np.ndarray) -> np.ndarray:
    """Tip (x, z) of one limb under a tip force, by collocation."""
    L = LENGTH[sign]

    def rates(s: np.ndarray, y: np.ndarray) -> np.ndarray:
        # theta turns the tangent from +-z towards +x
        moment = y[3]
        return np.stack(
            [
                np.sin(y[2]),
                sign * np.cos(y[2]),
                moment / bending(sign, s),
                -(force[0] * np.cos(y[2]) - sign * force[1] * np.sin(y[2])),
            ]
        )

    def ends(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.array([a[0], a[1] - sign * GRIP[sign], a[2], b[3]])

    s = np.linspace(0.0, L, 41)
    guess = np.stack([0.5 * s**2, sign * (GRIP[sign] + s), s, 20.0 * (L - s)])
    solution = solve_bvp(rates, ends, s, guess, tol=1e-10, max_nodes=4000)
    assert solution.success
    return solution.y[:2, -1]


def test_uneven_limbs_held_by_hand():
    bow = uneven_bow(40)
    braced = brace(bow, height=0.155)
    state = draw(bow, braced, [0.40, 0.68])[1]
    lengths = braced.string_lengths

    def gaps(unknown: np.ndarray) -> np.ndarray:
        p, tension = unknown[:2], 100.0 * unknown[2:4]
        guess, residual = unknown[4:].reshape(2, 2), []
        pull = np.zeros(2)
        for i, sign in enumerate((-1, 1)):
            along = p - guess[i]
            size = np.linalg.norm(along)
            pull += tension[i] * along / size
            residual += [*(limb_tip(sign, tension[i] * along / size) - guess[i])]
            residual.append(size - lengths[i])
        towards = (p - HAND) / np.linalg.norm(p - HAND)
        residual.append((pull[0] * towards[1] - pull[1] * towards[0]) / 100.0)
        residual.append(towards @ (p - np.array([BACK, 0.0])) - 0.68)
        return np.array(residual)

    start = np.array([0.6, 0.03, 2.0, 2.0, 0.3, -0.7, 0.3, 0.76])
    found = root(gaps, start, tol=1e-11)
    assert found.success
    p, tension = found.x[:2], 100.0 * found.x[2:4]
    point = own_frame(bow, state, state.nocking_point)
    assert point[[0, 2]] == pytest.approx(p, abs=2e-5)
    assert state.string_tension == pytest.approx(tension, rel=1e-4)
    tips = own_frame(bow, state, state.positions[[0, -1]])[:, [0, 2]]
    assert tips.ravel() == pytest.approx(found.x[4:], abs=2e-5)
    towards = (p - HAND) / np.linalg.norm(p - HAND)
    pull = sum(
        t * (p - a) / np.linalg.norm(p - a)
        for t, a in zip(tension, found.x[4:].reshape(2, 2), strict=True)
    )
    assert state.draw_force == pytest.approx(pull @ towards, rel=1e-4)
    # push and pull are collinear: in the world frame hand, nocking point and X lie on one line
    hand = state.frame @ (bow.hold.point - point)
    assert hand[1:] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert measure(bow, state, distance=0.4).balance == pytest.approx(0.0, abs=1e-9)


def test_brace_without_the_hand_is_in_the_bows_own_frame():
    bow = uneven_bow(12)
    state = brace(bow, height=0.155)
    low, point, high = state.string_points
    assert point[2] == pytest.approx(ARROW)
    share = (0.0 - low[2]) / (high[2] - low[2])
    assert low[0] + share * (high[0] - low[0]) - 0.013 == pytest.approx(0.155, rel=1e-9)
    assert np.array_equal(state.frame, np.eye(3))
