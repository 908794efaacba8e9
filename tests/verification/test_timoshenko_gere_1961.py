"""A rod braced by a string between its ends, and lateral buckling of narrow beams.

S. P. Timoshenko, J. M. Gere, Theory of Elastic Stability, 2nd ed. (1961): the post-buckled column
(sec. 2.7, table from memory) is a uniform bow without a grip held by its string; lateral buckling
of narrow rectangles (ch. 6, coefficients from memory: 4.013, 12.85, 16.94, pi).  Targets are closed
forms with elliptic integrals, and independent solutions of the out-of-plane problem about the bent
beam, recomputed.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ellipe, ellipk

from limbfe.beam import Bow, BowString, Chain, Hold, brace

from ..beam.statics import Loads, follow_load


def rod(elements: int) -> Bow:
    """Uniform rod of length 1 and EI = 1, held at its middle node."""
    x = np.linspace(-0.5, 0.5, elements + 1)
    n = len(x)
    up = np.array([[0.0, 0.0, -1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])
    chain = Chain(
        positions=np.column_stack([0 * x, 0 * x, x]),
        rotations=np.broadcast_to(up, (n, 3, 3)),
        stiffness=np.broadcast_to(np.diag([1e8, 1e8, 1e8, 1.0, 1.0, 5.0]), (elements, 2, 6, 6)),
        mass=np.broadcast_to(np.eye(6), (elements, 2, 6, 6)),
    )
    return Bow(
        chain=chain,
        clamped=elements // 2,
        string=BowString(
            stiffness=np.inf, mass=0.0, nock_lower=np.zeros(3), nock_upper=np.zeros(3)
        ),
        hold=Hold(kind="clamp", point=np.zeros(3)),
        grip_belly=np.zeros(3),
        grip_back=np.zeros(3),
        arrow_z=0.01,
    )


@pytest.mark.parametrize("degrees", [10, 20, 40, 60, 80, 100, 120])
def test_column_elastica_braced_by_its_string(degrees: int):
    p = np.sin(np.radians(degrees) / 2.0)
    K, E = ellipk(p * p), ellipe(p * p)
    load, distance, middle = (2.0 * K) ** 2, 2.0 * E / K - 1.0, p / K
    energy = 4.0 * K * (2.0 * E - 2.0 * (1.0 - p * p) * K)
    states = [brace(rod(80), length=distance)]
    if degrees <= 100:
        # the middle's deflection has its largest value near 113 degrees
        states.append(brace(rod(80), height=middle))
    # EA = 1e8 EI/L^2: compression shortens the rod by 1e-7 of its length and stores energy
    energy += load**2 / 2e8
    for state in states:
        assert state.string_tension == pytest.approx([load, load], rel=2e-5)
        assert state.brace_height == pytest.approx(middle, rel=2e-5)
        assert state.string_lengths.sum() == pytest.approx(distance, rel=2e-5)
        assert state.strain_energy == pytest.approx(energy, rel=3e-5)
        assert state.resultants[39:41, :, 4].mean() == pytest.approx(4.0 * K * p, rel=5e-4)
        assert state.stable


def test_a_string_as_long_as_the_rod_is_slack():
    state = brace(rod(20), length=1.001)
    assert state.slack
    assert np.array_equal(state.string_tension, [0.0, 0.0])
    assert state.positions == pytest.approx(rod(20).chain.positions)


def critical(chain: Chain, fixed: np.ndarray, dead: np.ndarray, low: float, high: float) -> float:
    """Load factor at which the tangent of the planar state first loses its sign."""
    held = fixed.copy()
    held[:, [1, 3, 5]] = True
    free = np.flatnonzero(~fixed.ravel())

    @cache
    def lowest(factor: float) -> float:
        loads = Loads(dead=dead, follower=0 * dead)
        tangent = follow_load(chain, held, loads, [factor])[0].tangent[np.ix_(free, free)]
        assert np.abs(tangent - tangent.T).max() < 1e-6 * np.abs(tangent).max()
        return float(np.linalg.eigvalsh(0.5 * (tangent + tangent.T))[0])

    assert lowest(low) > 0.0
    return float(brentq(lowest, low, high, rtol=1e-6))


@pytest.mark.parametrize(
    ("EI1", "GJ", "exact"),
    [(1e3, 1.0, 4.017195), (100.0, 1.0, 4.059627), (25.0, 1.0, 4.216534), (10.0, 1.0, 4.624632),
     (25.0, 0.5, 4.154625)],
)  # fmt: skip
def test_lateral_buckling_of_a_cantilever_with_its_bending_before(
    EI1: float, GJ: float, exact: float
):
    n = 41
    x = np.linspace(0.0, 1.0, n)
    stiffness = np.diag([1e7, 1e7, 1e7, GJ, EI1, 1.0])
    chain = Chain(
        positions=np.column_stack([x, 0 * x, 0 * x]),
        rotations=np.broadcast_to(np.eye(3), (n, 3, 3)),
        stiffness=np.broadcast_to(stiffness, (n - 1, 2, 6, 6)),
        mass=np.broadcast_to(np.eye(6), (n - 1, 2, 6, 6)),
    )
    fixed = np.zeros((n, 6), dtype=bool)
    fixed[0] = True
    dead = np.zeros((n, 6))
    dead[-1, 2] = 1.0
    load = critical(chain, fixed, dead, 3.0 * np.sqrt(GJ), 6.0 * np.sqrt(GJ))
    assert load / np.sqrt(GJ) == pytest.approx(exact, rel=1e-3)


def buckles_at(case: str, n: int, EI1: float) -> float:
    """Load factor of a straight beam of length 1 with EI2 = GJ = 1, load on its axis."""
    x = np.linspace(0.0, 1.0, n)
    chain = Chain(
        positions=np.column_stack([x, 0 * x, 0 * x]),
        rotations=np.broadcast_to(np.eye(3), (n, 3, 3)),
        stiffness=np.broadcast_to(np.diag([1e7, 1e7, 1e7, 1.0, EI1, 1.0]), (n - 1, 2, 6, 6)),
        mass=np.broadcast_to(np.eye(6), (n - 1, 2, 6, 6)),
    )
    fixed, dead = np.zeros((n, 6), dtype=bool), np.zeros((n, 6))
    if case == "cantilever, uniform load":
        fixed[0] = True
        dead[:, 2] = 1.0 / (n - 1)
        dead[[0, -1], 2] *= 0.5
    else:
        # ends held sideways, down and against twist, free to turn both ways
        fixed[[0, -1], 1:4] = fixed[0, 0] = True
        if case == "supported, central load":
            dead[n // 2, 2] = 1.0
        else:
            dead[0, 4], dead[-1, 4] = 1.0, -1.0
    target = COEFFICIENTS[case]
    return critical(chain, fixed, dead, 0.75 * target, 1.3 * target)


COEFFICIENTS = {
    "cantilever, uniform load": 12.8537633214,
    "supported, central load": 16.936132151,
    "supported, end moments": np.pi,
}


@pytest.mark.parametrize("case", COEFFICIENTS)
def test_lateral_buckling_of_beams_stiff_in_their_plane(case: str):
    """Coefficients for a beam infinitely stiff in its plane, recomputed to 10 digits.

    The error falls as h^2 (from 2e-3 with 20 elements to 5e-4 with 40), so two meshes are
    extrapolated; bending before buckling raises the load by about EI2/EI1 = 1e-4.
    """
    coarse, fine = (buckles_at(case, n, 1e4) for n in (21, 41))
    assert coarse > fine > COEFFICIENTS[case]
    assert (4.0 * fine - coarse) / 3.0 == pytest.approx(COEFFICIENTS[case], rel=2e-4)
