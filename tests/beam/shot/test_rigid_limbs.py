"""Rigid limbs on root springs, and an arrow on a string between fixed nocks.

Limb: rigid, 0.75 m, hinged 0.1 m above and below the middle, 400 N m/rad, 0.02 kg m2; string of
half length S; b the nocking point's distance from the limbs' axis.  With a string that neither
stretches nor weighs anything the motion has one unknown, m v^2/2 + J (theta' v)^2 = k (theta_f^2 -
theta^2) (closed).  With one that stretches: DOP853, energy kept to 1e-12 (derived, apart from this
package), and again here by SciPy.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from limbfe.beam import brace, draw
from limbfe.beam.bow import rest_offset
from limbfe.beam.shot.setup import Gear, shot_model
from limbfe.beam.shot.shoot import Shot, shoot, shoot_from

from .march import rigid_limbs

G, L, K, J, BRACE, FULL = 0.10, 0.75, 400.0, 0.02, 0.15, 0.70


def let_go(
    stiffness: float, arrow: float, *, string: float = 0.0, h: float = 2.5e-5, **gear: tuple
) -> tuple:
    bow = rigid_limbs(stiffness, string_mass=string)
    braced = brace(bow, height=BRACE)
    state = draw(bow, braced, np.linspace(0.2, FULL, 11)).states[-1]
    shot = shoot_from(bow, state, arrow, Gear(segments=1, **gear), step=h, after=0.0)
    stored = state.strain_energy + state.string_energy
    stored -= braced.strain_energy + braced.string_energy
    return shot, stored, state, braced


ELASTIC = [
    # EA, arrow, string, stored, v, efficiency, t ms, b, T, least T
    (20e3, 0.03, 0.0, 79.633852, 63.846665, 0.76783865, 14.397291, 0.16105814, 479.28856, 99.022),
    (50e3, 0.03, 0.0, 80.603598, 65.947745, 0.80935067, 14.957121, 0.13625139, 698.75968, 83.162),
    (100e3, 0.03, 0.0, 80.943567, 66.733139, 0.82526234, 15.058055, 0.13187556, 954.58320, 78.043),
    (1e6, 0.03, 0.0, 81.257162, 70.140974, 0.90818265, 14.863388, 0.14134460, 2590.8931, 73.521),
    (1e7, 0.03, 0.0, 81.288929, 72.700472, 0.97529122, 14.724061, 0.14815549, 5018.2322, 73.076),
]


@pytest.mark.parametrize("row", ELASTIC, ids=lambda row: f"EA {row[0]:.0f}")
def test_elastic_strings(row: tuple):
    stiffness, arrow, string, stored, v, efficiency, t, b, tension, least = row
    # a stiffer string vibrates faster and asks for a shorter step
    h = 2.5e-5 if stiffness < 1e6 else 2.5e-6
    shot, work, _, _ = let_go(stiffness, arrow, string=string, h=h)
    # the hinge is an element of 0.2 mm: 2e-5 of the energy
    assert work == pytest.approx(stored, rel=3e-5)
    assert shot.speed == pytest.approx(v, rel=2.5e-5)
    assert 0.5 * arrow * shot.speed**2 / work == pytest.approx(efficiency, rel=5e-5)
    assert 1e3 * shot.time[shot.left] == pytest.approx(t, rel=2.5e-5)
    assert shot.nocking[shot.left, 0] == pytest.approx(b, abs=1e-5)
    # the tension rises in a hundredth of the shot's time
    assert shot.tension[shot.left, 0] == pytest.approx(
        tension, rel=2.5e-4 if stiffness <= 1e6 else 5e-4
    )
    assert shot.tension[: shot.left].min() == pytest.approx(least, rel=3e-4)


@pytest.mark.parametrize("row", ELASTIC[:3], ids=lambda row: f"EA {row[0]:.0f}")
def test_speed_time_and_tension_converge_with_the_square_of_the_step(row: tuple):
    found = []
    for h in (1e-4, 5e-5, 2.5e-5):
        shot, _, _, _ = let_go(row[0], row[1], h=h)
        found.append((shot.speed, shot.nocking[round(8e-3 / h), 0]))
    first, second = np.diff(found, axis=0)
    # of the place at 8 ms too, which no search for the end of the push touches
    assert first / second == pytest.approx(4.0, abs=0.6)


def test_other_arrows_and_a_third_of_the_string_at_the_nocking_point():
    for arrow, v, tension in ((0.02, 77.333726, 1040.2778), (0.05, 53.450127, 892.61513)):
        shot, _, _, _ = let_go(100e3, arrow, h=1.25e-5)
        assert shot.speed == pytest.approx(v, rel=2.5e-5)
        assert shot.tension[shot.left, 0] == pytest.approx(tension, rel=2.5e-4)
    # 6 g of string count 2 g there: derived 65.039305 m/s; the other 4 g are taken from the tips
    bow = rigid_limbs(100e3)
    state = draw(bow, brace(bow, height=BRACE), np.linspace(0.2, FULL, 11)).states[-1]
    shot = shoot_from(bow, state, 0.03, Gear(serving=0.002), step=2.5e-5, after=0.0)
    assert shot.speed == pytest.approx(65.039305, rel=2.5e-5)
    assert 1e3 * shot.time[shot.left] == pytest.approx(15.373996, rel=2.5e-5)
    assert shot.tension[shot.left, 0] == pytest.approx(937.01905, rel=2.5e-4)


# closed: arrow, speed, tension as the string is straight
CLOSED = [
    (0.01, 127.50879464, 17847.905),
    (0.02, 90.16233335, 9192.430),
    (0.03, 73.61723691, 6307.271),
    (0.05, 57.02366651, 3999.145),
    (0.1, 40.32182128, 2268.049),
]


@pytest.mark.parametrize(("arrow", "v", "tension"), CLOSED)
def test_string_that_hardly_stretches_tends_to_the_closed_speed(
    arrow: float, v: float, tension: float
):
    # what is missing is what such a string takes at the closed tension, T2 S/EA of both halves: a
    # little less as the arrow leaves before the tension is at its highest
    stiffness = 1.024e9
    shot, _, _, _ = let_go(stiffness, arrow, h=1e-5)
    taken = 0.5 * tension**2 * 0.834846922835 / stiffness / 81.292463555
    gap = 1.0 - shot.speed / v
    # 1e-5: the energy of the hinges' own length, as above
    assert 0.75 * taken - 1.5e-5 < gap < taken + 1.5e-5
    assert gap < 1.6e-3


def test_on_the_way_speed_and_limb_follow_the_closed_form():
    # closed, 30 g: b, t ms, v, theta
    rows = [
        (0.60, 6.05460, 32.404115, 0.42624510),
        (0.50, 8.64651, 44.523230, 0.36226532),
        (0.40, 10.69154, 53.174701, 0.30245991),
        (0.30, 12.45034, 60.688800, 0.24901860),
    ]
    shot, _, _, _ = let_go(1e8, 0.03, h=1e-5)
    b, v = shot.nocking[:, 0], -shot.record.point_speed[:, shot.model.nocking, 0]
    tip = shot.record.positions[:, -1]
    theta = np.arctan2(tip[:, 0], tip[:, 2] - G)
    for at, t, speed, angle in rows:
        assert np.interp(-at, -b, 1e3 * shot.time) == pytest.approx(t, rel=1e-3)
        assert np.interp(-at, -b, v) == pytest.approx(speed, rel=3e-3)
        assert np.interp(-at, -b, theta) == pytest.approx(angle, rel=1e-3)


@pytest.mark.parametrize("arrow", [0.02, 0.04])
@pytest.mark.parametrize("shares", [(), (0.1, 0.3, 0.2)], ids=["no loss", "with dampers"])
def test_motion_is_that_of_three_unknowns_solved_by_scipy(arrow: float, shares: tuple):
    stiffness, delays = 80e3, np.array([2e-4, 3e-3, 0.1])[: len(shares)]
    shot, _, state, _ = let_go(stiffness, arrow, h=5e-6, shares=shares, delays=tuple(delays))
    rest = float(state.string_lengths[0])

    def rates(_: float, y: np.ndarray) -> list[float]:
        theta, turn, b, v = y[:4]
        late = theta - y[4:]
        dx, dz = b - L * np.sin(theta), -(G + L * np.cos(theta))
        size = np.hypot(dx, dz)
        tension = stiffness * max(size / rest - 1.0, 0.0)
        lever = (dx * L * np.cos(theta) - dz * L * np.sin(theta)) / size
        moment = tension * lever - K * (theta + np.dot(shares, late))
        return [turn, moment / J, v, -2.0 * tension * dx / size / arrow, *(late / delays)]

    def leaves(t: float, y: np.ndarray) -> float:
        return y[2] - L * np.sin(y[0])

    leaves.terminal = True
    tip = state.positions[-1]
    drawn = np.arctan2(tip[0], tip[2] - G)
    start = [drawn, 0.0, float(state.nocking_point[0]), 0.0, *(drawn for _ in shares)]
    own = solve_ivp(
        rates, (0.0, 0.05), start, method="DOP853", rtol=1e-10, atol=1e-12, events=leaves
    )
    # no step is in this, but the hinges' 0.2 mm, over which the start's angle is read
    assert shot.speed == pytest.approx(-own.y[3, -1], rel=3e-5)
    assert shot.time[shot.left] == pytest.approx(own.t[-1], rel=2e-5)


def test_arrow_on_a_string_between_fixed_nocks():
    # closed: v = sqrt(2 (E(b) - E(0))/m), E = EA (sqrt(a2 + b2) - S0)^2/S0: 46.729109830 m/s,
    # 8.8171313500 ms, tension 365.403684 at the start and 59.523810 N at the end
    shot = _fixed_nocks()
    assert shot.tension[0, 0] == pytest.approx(365.403684, rel=1e-9)
    # the force on the arrow at the start: 243.227394 N, and less half a step later
    first = -float(shot.record.point_speed[1, shot.model.nocking, 0]) / shot.time[1]
    assert 0.020 * first == pytest.approx(243.227394, rel=2e-5)
    assert shot.speed == pytest.approx(46.729109830, rel=2e-6)
    assert 1e3 * shot.time[shot.left] == pytest.approx(8.8171313500, rel=1e-5)
    assert shot.tension[shot.left, 0] == pytest.approx(59.523810, rel=1e-5)
    assert shot.energy.arrow[shot.left] == pytest.approx(21.836097054, rel=4e-6)


def _fixed_nocks() -> Shot:
    bow = rigid_limbs(5000.0)
    state = draw(bow, brace(bow, height=BRACE), [0.3]).states[-1]
    model, motion = shot_model(bow, state, Gear())
    # everything rigid: the nocks stand at Z = +- 0.85 and do not move
    model.mass[:] += 1e9 * np.eye(6)
    motion.positions[:], motion.rotations[:] = bow.chain.positions, bow.chain.rotations
    motion.nocks[:] = [[0.0, 0.0, -0.85], [0.0, 0.0, 0.85]]
    motion.points[:] = [[0.3, 0.0, 0.0]]
    motion.twist[:] = bow.chain.twist
    model = model._replace(rest=np.full(2, 0.84), offset=rest_offset(bow.chain, model.stiffness))
    return shoot(model, motion, 0.020, 0.0, 243.0, 2.5e-5, 0.0)
