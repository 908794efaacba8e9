"""The element's tangent, objectivity and rigid invariants."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import expm

from limbfe.beam import Chain, gauss_positions
from limbfe.beam.bow import rest_offset
from limbfe.beam.limbs.element import assemble, resultants
from limbfe.beam.limbs.linear import eliminate, solve_dense, substitute
from limbfe.beam.limbs.motion import (
    move,
    tangent_derivatives,
    tangent_operators,
    twist_between,
    twist_increment,
)
from limbfe.errors import GeometryError, MaterialError

RNG = np.random.default_rng(20)


def coupled_stiffness(shape: tuple[int, ...]) -> np.ndarray:
    """Random symmetric positive definite sections with full coupling."""
    a = RNG.normal(size=(*shape, 6, 6))
    scale = np.array([3e2, 2e2, 1e2, 3.0, 2.0, 4.0])
    return (a @ np.swapaxes(a, -1, -2) + 6.0 * np.eye(6)) * scale[:, None] * scale


def curved_chain(elements: int) -> Chain:
    rotations, positions = np.empty((elements + 1, 3, 3)), np.empty((elements + 1, 3))
    frame, place = np.eye(3), np.zeros(3)
    for i in range(elements + 1):
        rotations[i], positions[i] = frame, place
        move(frame, place, np.concatenate([[0.1, 0.01, -0.02], 0.2 * RNG.normal(size=3)]))
    stiffness = coupled_stiffness((elements, 2))
    return Chain(positions=positions, rotations=rotations, stiffness=stiffness, mass=stiffness)


def hat(d: np.ndarray) -> np.ndarray:
    m = np.zeros((4, 4))
    m[:3, :3] = [[0, -d[5], d[4]], [d[5], 0, -d[3]], [-d[4], d[3], 0]]
    m[:3, 3] = d[:3]
    return m


@pytest.mark.parametrize("angle", [1e-7, 0.05, 0.7, 2.5])
def test_motions_against_the_matrix_exponential(angle: float):
    d = RNG.normal(size=6)
    d[3:] *= angle / np.linalg.norm(d[3:])
    first = expm(hat(RNG.normal(size=6)))
    frame, place = first[:3, :3].copy(), first[:3, 3].copy()
    move(frame, place, d)
    second = first @ expm(hat(d))
    assert frame == pytest.approx(second[:3, :3], abs=1e-14)
    assert place == pytest.approx(second[:3, 3], abs=1e-14)
    found = np.empty(6)
    twist_between(first[:3, :3].copy(), first[:3, 3].copy(), frame, place, found)
    assert found == pytest.approx(d, abs=1e-13)


@pytest.mark.parametrize("angle", [1e-3, 0.6, 2.0])
def test_operators_and_their_derivatives_against_differences(angle: float):
    d, s = RNG.normal(size=6), RNG.normal(size=6)
    d[3:] *= angle / np.linalg.norm(d[3:])

    def operators(twist: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        p, q = np.empty((6, 6)), np.empty((6, 6))
        tangent_operators(twist, p, q)
        return p, q

    mr, ml = np.empty((6, 6)), np.empty((6, 6))
    tangent_derivatives(d, s, mr, ml)
    h = 1e-6
    for k, unit in enumerate(np.eye(6)):
        high, low = operators(d + h * unit), operators(d - h * unit)
        assert mr[:, k] == pytest.approx((high[0].T @ s - low[0].T @ s) / (2 * h), abs=1e-8)
        assert ml[:, k] == pytest.approx((high[1].T @ s - low[1].T @ s) / (2 * h), abs=1e-8)
    p, q = operators(d)
    one, two, moved = RNG.normal(size=6), RNG.normal(size=6), d.copy()
    twist_increment(moved, one, two, 0.7)
    assert moved == pytest.approx(d + 0.7 * (p @ two - q @ one), abs=1e-13)


def system(chain: Chain, rotations: np.ndarray, positions: np.ndarray):
    n = len(positions)
    diag, off, force = np.zeros((n, 6, 6)), np.zeros((n - 1, 6, 6)), np.zeros((n, 6))
    element = np.array(chain.element_stiffness)
    offset = rest_offset(chain, element)
    assemble(
        rotations, positions, element, offset, np.array(chain.length), 0, n - 1, diag, off, force
    )
    return diag, off, force


def disturbed(chain: Chain) -> tuple[np.ndarray, np.ndarray]:
    rotations, positions = np.array(chain.rotations), np.array(chain.positions)
    for i in range(len(positions)):
        move(rotations[i], positions[i], 0.03 * RNG.normal(size=6))
    return rotations, positions


def test_tangent_is_the_derivative_of_the_force():
    chain = curved_chain(4)
    rotations, positions = disturbed(chain)
    diag, off, _ = system(chain, rotations, positions)
    h = 1e-6
    for node in range(5):
        for k in range(6):
            forces = []
            for sign in (1.0, -1.0):
                r, x, step = rotations.copy(), positions.copy(), np.zeros(6)
                step[k] = sign * h
                move(r[node], x[node], step)
                forces.append(system(chain, r, x)[2])
            slope = (forces[0] - forces[1]) / (2 * h)
            size = np.abs(diag[node]).max()
            assert diag[node][:, k] == pytest.approx(slope[node], abs=1e-7 * size)
            if node < 4:
                assert off[node][k] == pytest.approx(slope[node + 1], abs=1e-7 * size)
            if node > 0:
                assert off[node - 1][:, k] == pytest.approx(slope[node - 1], abs=1e-7 * size)


def test_strains_do_not_see_a_rigid_motion():
    chain = curved_chain(5)
    rotations, positions = disturbed(chain)
    turn = expm(hat(np.array([0.0, 0, 0, 1.1, -2.0, 0.7])))[:3, :3]
    out = []
    for r, x in (
        (rotations, positions),
        (turn @ rotations, positions @ turn.T + np.array([3.0, -1.0, 2.0])),
    ):
        twist, force = np.empty((5, 6)), np.empty((5, 6))
        element = np.array(chain.element_stiffness)
        offset = rest_offset(chain, element)
        resultants(
            np.ascontiguousarray(r), np.ascontiguousarray(x), element, offset,
            np.array(chain.length), twist, force,
        )  # fmt: skip
        out.append((twist, force))
    assert out[1][0] == pytest.approx(out[0][0], abs=1e-12)
    assert out[1][1] == pytest.approx(out[0][1], rel=1e-7, abs=1e-4)


def test_elimination_solves_and_counts_negative_eigenvalues_in_both_directions():
    chain = curved_chain(7)
    rotations, positions = disturbed(chain)
    diag, off, force = system(chain, rotations, positions)
    diag = 0.5 * (diag + np.swapaxes(diag, 1, 2)) - 5e2 * np.eye(6)
    full = np.zeros((8, 6, 8, 6))
    for i in range(8):
        full[i, :, i, :] = diag[i]
        if i < 7:
            full[i, :, i + 1, :], full[i + 1, :, i, :] = off[i], off[i].T
    matrix = full.reshape(48, 48)
    for start, stop in ((0, 7), (7, 0)):
        d, o, r = diag.copy(), off.copy(), force.copy()
        negative = eliminate(d, o, r, start, stop)
        last = r[stop][:, None].copy()
        rest = d[stop].copy()
        assert solve_dense(d[stop].copy(), last)
        r[stop] = last[:, 0]
        substitute(d, o, r, start, stop)
        assert matrix @ r.ravel() == pytest.approx(force.ravel(), abs=1e-6 * np.abs(force).max())
        negative += int(np.sum(np.linalg.eigvalsh(rest) < 0.0))
        assert negative == np.sum(np.linalg.eigvalsh(matrix) < 0.0) > 0


def test_gauss_positions_integrate_cubics():
    x = np.array([0.0, 0.3, 1.0])
    at, width = gauss_positions(x), np.diff(x)
    assert np.sum(0.5 * width[:, None] * at**3) == pytest.approx(0.25, rel=1e-14)


def test_impossible_chains_are_refused():
    chain = curved_chain(3)
    fields = {
        "positions": chain.positions,
        "rotations": chain.rotations,
        "stiffness": chain.stiffness,
        "mass": chain.mass,
    }
    soft = np.array(chain.stiffness)
    soft[1, 1, 0, 1] = soft[1, 1, 1, 0] = 10.0 * np.sqrt(soft[1, 1, 0, 0] * soft[1, 1, 1, 1])
    with pytest.raises(MaterialError, match="element 1, Gauss point 1: not positive definite"):
        Chain(**{**fields, "stiffness": soft})
    hollow = np.array(chain.stiffness)
    hollow[0, 0, 4, 4] = np.nan
    with pytest.raises(MaterialError, match="finite and positive"):
        Chain(**{**fields, "stiffness": hollow})
    with pytest.raises(GeometryError, match="element 1: length 0"):
        Chain(
            **{**fields, "positions": chain.positions[[0, 1, 1, 3]],
               "rotations": chain.rotations[[0, 1, 1, 3]]}
        )  # fmt: skip
    with pytest.raises(GeometryError, match="node 0"):
        Chain(**{**fields, "rotations": 1.01 * chain.rotations})
