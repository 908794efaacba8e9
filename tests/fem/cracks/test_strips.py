"""Splits beside holes in strips of wood under tension: steady state, start, barrier and run.

Sources: the steady state by the energy balance of the strips left beside a long split (closed, in
each test); energy release against length and the loads of start, barrier and run from a finite
element study of its own (quadratic triangles, 0.12 mm, frictionless contact; two figures).
"""

from functools import cache

import numpy as np
import pytest

from limbfe.failure.splits.criterion import GrainStrength, Split, follow, relative_release
from limbfe.fem.cracks.closure import Growth
from tests.fem.cracks.bodies import E_L, Body
from tests.fem.cracks.strips import FLAT, edge_holed_half, holed_quarter

WIDTH, RADIUS = 40e-3, 4e-3
STRESS = 1e6
WOOD = GrainStrength(across=6e6, shear=14e6, opening=350.0, sliding=1000.0)
STEADY = STRESS**2 * WIDTH * 2 * RADIUS / (4 * E_L * (WIDTH - 2 * RADIUS))


@cache
def _tangent() -> tuple[Body, Growth]:
    body = holed_quarter(radius=RADIUS, width=WIDTH, half_length=0.09, end=0.042, near=0.18e-3)
    return body, body.growth(STRESS * 0.5 * WIDTH)


def _split(body: Body, growth: Growth) -> Split:
    tied = growth.force[0].reshape(2, -1).T
    return follow(growth, tied, body.slit.along, WOOD)


def test_energy_release_beside_a_hole_against_length() -> None:
    _, growth = _tangent()
    a = 1e3 * (growth.middle + FLAT)
    at = [1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 12, 16, 24, 40]
    opening = [0.44, 0.60, 0.56, 0.43, 0.28, 0.06, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    sliding = [0.30, 0.38, 0.42, 0.44, 0.47, 0.56, 0.67, 0.78, 0.92, 1.01, 1.02, 1.00, 0.99]
    assert np.interp(at, a, growth.G_I) / STEADY == pytest.approx(opening, abs=0.03)
    # The lone 1.01 at 12 mm stands out of its own row (0.92 at 8): two spacings of elements there.
    assert np.interp(at, a, growth.G_II) / STEADY == pytest.approx(sliding, abs=0.035)


def test_start_barrier_and_run() -> None:
    body, growth = _tangent()
    split = _split(body, growth)
    assert split.start == pytest.approx(60, rel=0.05)
    # Ours starts at 57 and is by then as long as the source's, which starts there, at 60.
    assert split.length_at(60) + FLAT == pytest.approx(2.7e-3, rel=0.05)
    assert split.barrier == pytest.approx(88, rel=0.05)
    at = split.length[np.argmax(np.where(split.length > 2e-3, split.need, 0.0))]
    assert (at + FLAT) / (2 * RADIUS) == pytest.approx(0.58, abs=0.03)
    run = 1 / np.sqrt(relative_release(growth, WOOD)[split.length > 0.02])
    assert run == pytest.approx(72.1, rel=0.05)


def test_it_stays_short_below_the_barrier_and_then_goes_the_whole_way() -> None:
    body, growth = _tangent()
    split = _split(body, growth)
    grown = [1e3 * (split.length_at(load) + FLAT) for load in (65, 75, 85)]
    assert grown == pytest.approx([3.2, 3.5, 4.2], abs=0.3)
    assert split.length_at(0.99 * split.start) == 0.0
    assert split.length_at(1.01 * split.barrier) == split.end


def test_a_start_ten_degrees_below_the_top_is_a_little_easier() -> None:
    body = holed_quarter(
        radius=RADIUS, width=WIDTH, half_length=0.06, end=0.02, near=0.25e-3, angle=np.radians(10)
    )
    lower = _split(body, body.growth(STRESS * 0.5 * WIDTH))
    assert lower.start == pytest.approx(58, rel=0.05)


@pytest.mark.slow
@pytest.mark.parametrize("degrees", [0, 20])
def test_long_splits_leave_two_strips_that_carry_all(degrees: int) -> None:
    if degrees == 0:
        _, growth = _tangent()
    else:
        body = holed_quarter(
            radius=RADIUS, width=WIDTH, half_length=0.07, end=0.03, near=0.18e-3,
            angle=np.radians(degrees),
        )  # fmt: skip
        growth = body.growth(STRESS * 0.5 * WIDTH)
    d = 2 * RADIUS * np.cos(np.radians(degrees))
    closed = STRESS**2 * WIDTH * d / (4 * E_L * (WIDTH - d))
    long = (growth.middle > 2.0 * d) & (growth.middle < growth.length[-1] - 1e-3)
    ratio = (growth.G_I + growth.G_II)[long] / closed
    assert np.median(ratio) == pytest.approx(1.0, abs=0.02)
    assert np.abs(growth.G_I[long]).max() < 1e-3 * closed


@pytest.mark.slow
def test_edge_hole_with_ends_free_to_turn() -> None:
    n, W = 4e-3, 20e-3
    body = edge_holed_half(
        radius=n, width=W, half_length=0.12, end=0.06, near=0.18e-3, turning=True
    )
    growth = body.growth(STRESS * W)
    closed = STRESS**2 * W**2 / (2 * E_L)
    closed *= 1 / (W - n) - 1 / W + 3 * n**2 / (W - n) ** 3
    long = (growth.middle > 0.5 * W) & (growth.middle < 2.5 * W)
    total = growth.G_I + growth.G_II
    assert np.median(total[long]) == pytest.approx(closed, rel=0.02)
    assert total[long] == pytest.approx(closed, rel=0.05)


@pytest.mark.slow
def test_edge_hole_with_ends_held_straight() -> None:
    n, W, L = 4e-3, 20e-3, 0.12
    body = edge_holed_half(radius=n, width=W, half_length=L, end=0.085, near=0.18e-3, turning=False)
    growth = body.growth(STRESS * W)
    P = STRESS * W
    plain = P**2 / (2 * E_L) * (1 / (W - n) - 1 / W)
    reach = growth.middle + FLAT + 0.5 * W
    I_l, I_w = (W - n) ** 3 / 12, W**3 / 12
    m0 = -(P * n / 2) * (reach / I_l) / ((L - reach) / I_w + reach / I_l)
    closed = plain + ((P * n / 2 + m0) ** 2 / I_l - m0**2 / I_w) / (2 * E_L)
    for a in (0.5 * W, 2 * W, 4 * W):
        k = int(np.argmin(np.abs(growth.middle - a)))
        assert growth.G_I[k] + growth.G_II[k] == pytest.approx(closed[k], rel=0.05)
