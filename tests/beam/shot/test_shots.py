"""What must hold of any shot: energy, momentum, scaling, limits, order, rest, symmetry."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.beam import draw
from limbfe.beam.shot.parts import new_scratch
from limbfe.beam.shot.setup import Gear, shot_model
from limbfe.beam.shot.shoot import no_load, shoot, shoot_from
from limbfe.beam.shot.step import take_step
from limbfe.errors import ConvergenceError, MaterialError

from .march import full_draw, small_bow
from .momenta import momenta

ARROW = 0.028


@pytest.fixture(scope="module")
def bow():
    return small_bow()


@pytest.fixture(scope="module")
def drawn(bow):
    return full_draw(bow)


@pytest.fixture(scope="module")
def shot(bow, drawn):
    return shoot_from(bow, drawn[1], ARROW, Gear())


def stored(braced, full) -> float:
    energy = [one.strain_energy + one.string_energy for one in (full, braced)]
    return energy[0] - energy[1]


def test_energy_is_kept_until_long_after_the_arrow_has_left(bow, drawn, shot):
    work = stored(*drawn)
    assert shot.stored == pytest.approx(drawn[1].strain_energy + drawn[1].string_energy, rel=1e-9)
    assert np.ptp(shot.energy.total) < 1e-6 * work
    fine = shoot_from(bow, drawn[1], ARROW, Gear(), step=2.5e-5)
    assert np.ptp(shot.energy.total) / np.ptp(fine.energy.total) == pytest.approx(4.0, rel=0.4)
    assert shot.time[-1] - shot.time[shot.left] == pytest.approx(0.025, rel=0.01)


def test_hand_takes_the_change_of_momentum(shot):
    k = len(shot.time)
    carried = np.where(np.arange(k) <= shot.left, ARROW, 0.0)
    flow = momenta(shot.model, shot.record, carried)[:, :3]
    step = np.diff(shot.time, prepend=0.0)[:, None]
    pushed = np.cumsum(shot.record.hand * step, axis=0)[: shot.left + 1]
    assert flow[: shot.left + 1] == pytest.approx(pushed, abs=1e-7)


def test_free_bow_recoils_with_no_momentum_in_all(bow, drawn):
    model, motion = shot_model(bow, drawn[1], Gear(free=True))
    model = model._replace(hand_push=np.zeros(3))
    shot = shoot(model, motion, ARROW, 0.0, drawn[1].draw_force, 50e-6, 0.025)
    carried = np.where(np.arange(len(shot.time)) <= shot.left, ARROW, 0.0)
    flow = momenta(shot.model, shot.record, carried)[: shot.left + 1]
    assert np.abs(flow).max() < 1e-8
    assert model.grip_mass[0, 0] > 0.0
    # the bow goes back while the arrow goes forward
    assert shot.record.speed[shot.left, model.lower, 2] < 0.0
    assert np.ptp(shot.energy.total) < 1e-5 * stored(*drawn)


def test_held_by_a_heavy_stiff_hand_it_shoots_as_clamped(bow, drawn, shot):
    heavy = shoot_from(bow, drawn[1], ARROW, Gear(free=True, hand_mass=1e4, hand_stiffness=1e7))
    assert heavy.speed == pytest.approx(shot.speed, rel=2e-3)


@pytest.mark.parametrize("c", [4.0])
def test_mass_and_stiffness_scale_time_and_force(bow, drawn, shot, c):
    # multiplied by a power of four everything but rounding stays
    heavy = small_bow(density=700.0 * c, string_mass=6e-3 * c)
    state = full_draw(heavy)[1]
    slow = shoot_from(heavy, state, ARROW * c, Gear(), step=50e-6 * np.sqrt(c), after=0.0)
    assert slow.speed * np.sqrt(c) == pytest.approx(shot.speed, rel=1e-7)
    assert slow.time[slow.left] / np.sqrt(c) == pytest.approx(shot.time[shot.left], rel=1e-6)
    stiff = small_bow(modulus=12e9 * c, stiffness=40e3 * c)
    state = full_draw(stiff)[1]
    fast = shoot_from(stiff, state, ARROW, Gear(), step=50e-6 / np.sqrt(c), after=0.0)
    assert fast.speed / np.sqrt(c) == pytest.approx(shot.speed, rel=1e-6)
    assert fast.tension[fast.left] / c == pytest.approx(shot.tension[shot.left], rel=1e-4)


def test_heavy_arrow_takes_all_and_light_one_nothing(bow, drawn):
    work, full = stored(*drawn), drawn[1]
    share = []
    for arrow in (0.0005, 0.03, 30.0):
        shot = shoot_from(bow, full, arrow, Gear(), step=1e-4, after=0.0)
        share.append(0.5 * arrow * shot.speed**2 / work)
    assert share[0] < 0.05 < share[1] < 0.99
    assert share[2] == pytest.approx(1.0, abs=2e-3)
    assert share[2] < 1.0


def test_first_acceleration_is_the_pull_over_arrow_and_a_third_of_the_string(bow, drawn):
    # tips that hold still: light ones feel the string's inertia at once and give a little
    heavy = Gear(segments=1, tip_mass=(0.2, 0.2))
    shot = shoot_from(bow, drawn[1], ARROW, heavy, step=2e-5, after=0.0)
    speed = -shot.record.point_speed[1, shot.model.nocking, 0]
    first = drawn[1].draw_force / (ARROW + 6e-3 / 3.0)
    assert speed / shot.time[1] == pytest.approx(first, rel=2e-4)
    assert shot.tension[0] == pytest.approx(np.repeat(drawn[1].string_tension, 1), rel=1e-9)


def test_third_of_the_string_at_the_nocking_point_flies_as_if_it_were_the_arrows(drawn):
    # closed: the same motion, shared by the masses
    bow = small_bow(string_mass=0.0)
    state, served = full_draw(bow)[1], Gear(serving=2e-3)
    apart = shoot_from(bow, state, ARROW, served, after=0.0)
    joined = shoot_from(bow, state, ARROW + 2e-3, Gear(), after=0.0)
    assert apart.speed == pytest.approx(joined.speed, rel=1e-12)
    assert apart.time[apart.left] == pytest.approx(joined.time[joined.left], rel=1e-12)


def test_very_heavy_arrow_meets_the_tension_of_the_static_draw(bow, drawn):
    # an arrow that is never fast lets the bow down as the hand would
    shot = shoot_from(bow, drawn[1], 300.0, Gear(segments=1), step=5e-3, after=0.0)
    back = float(drawn[1].grip_back[0])
    lengths = np.array([0.3, 0.4, 0.5])
    states = draw(bow, drawn[0], lengths).states
    reached = shot.nocking[:, 0] - back
    tension = np.interp(-lengths, -reached, shot.tension[:, 0])
    static = [float(state.string_tension[0]) for state in states]
    assert tension == pytest.approx(static, rel=2e-3)


def test_arrow_leaves_at_its_greatest_speed(shot):
    speed = -shot.record.point_speed[: shot.left + 1, shot.model.nocking, 0]
    assert speed.argmax() >= shot.left - 1
    last = shot.record.point_speed[shot.left - 2 : shot.left + 1, shot.model.nocking, 0]
    assert abs(last[2] - last[1]) < 2e-3 * abs(last[2])


def test_a_step_of_a_fraction_of_a_microsecond_is_not_lost_in_rounding(bow, drawn):
    """The arrow's leaving may end in one: places are known to 1e-16 m, inertia to that over h^2."""
    full, arrow, h = drawn[1], 0.3, 4e-7
    model, start = shot_model(bow, full, Gear())
    end, work = start.copy(), new_scratch(model)
    assert take_step(model, arrow, no_load(model), start, end, work, h) >= 0
    gained = -end.point_speed[model.nocking, 0]
    assert gained == pytest.approx(full.draw_force / arrow * h, rel=0.02)


def test_speed_converges_with_the_square_of_the_step(bow, drawn, shot):
    speeds = [
        shoot_from(bow, drawn[1], ARROW, Gear(), step=h, after=0.0).speed for h in (1e-4, 2.5e-5)
    ]
    first, second = shot.speed - speeds[0], speeds[1] - shot.speed
    # the string's fastest waves are shorter than the steps, hence not nearer to 4
    assert first / second == pytest.approx(4.0, abs=0.6)
    assert abs(second) < 5e-5 * shot.speed


def test_twelve_elements_a_limb_are_enough():
    speeds = []
    for elements in (6, 12, 24):
        bow = small_bow(elements)
        speeds.append(shoot_from(bow, full_draw(bow)[1], ARROW, Gear(), after=0.0).speed)
    assert speeds[1] == pytest.approx(speeds[2], rel=5e-4)


def test_damped_bow_comes_to_rest_at_brace(bow, drawn):
    gear = Gear(shares=(0.5,), delays=(5e-3,), string_lag=2e-3)
    shot = shoot_from(bow, drawn[1], ARROW, gear, step=5e-4, after=1.2)
    energy = shot.energy
    braced = drawn[0]
    assert energy.limbs_moving[-1] + energy.string_moving[-1] < 1e-5 * stored(*drawn)
    assert energy.limbs_bent[-1] == pytest.approx(braced.strain_energy, rel=2e-4)
    assert shot.tension[-1] == pytest.approx(float(braced.string_tension[0]), rel=1e-3)
    assert np.all(np.diff(energy.total[: shot.left]) <= 1e-9)


def test_damping_takes_energy_at_every_step_and_never_gives_any(bow, drawn, shot):
    shares, delays = (0.02,) * 5, tuple(10.0 ** np.arange(-4.0, 1.0))
    lossy = shoot_from(bow, drawn[1], ARROW, Gear(shares=shares, delays=delays))
    total, work = lossy.energy.total, stored(*drawn)
    assert total[0] == pytest.approx(shot.energy.total[0], rel=1e-12)
    # what a step of the undamped shot is out by
    assert np.diff(total).max() < np.abs(np.diff(shot.energy.total)).max()
    assert 2e-3 < (total[0] - total[lossy.left]) / work < 3e-2
    assert lossy.speed < shot.speed


def test_even_bow_shoots_straight_and_its_mirror_the_same(drawn, shot):
    assert np.abs(shot.nocking[:, 1:]).max() < 1e-8
    up, down = (small_bow(uneven=sign * 0.05) for sign in (1.0, -1.0))
    shots = [shoot_from(one, full_draw(one)[1], ARROW, Gear()) for one in (up, down)]
    assert shots[0].speed == pytest.approx(shots[1].speed, rel=1e-9)
    n = min(len(one.time) for one in shots)
    assert shots[0].nocking[:n, 2] == pytest.approx(-shots[1].nocking[:n, 2], abs=1e-7)
    assert np.abs(shots[0].nocking[:, 2]).max() > 1e-4


def test_dry_release_keeps_all_in_limbs_and_string(bow, drawn, shot):
    dry = shoot_from(bow, drawn[1], 0.0, Gear())
    assert dry.left is None
    assert dry.tension.max() > 1.5 * shot.tension.max()
    assert np.ptp(dry.energy.total) < 1e-4 * stored(*drawn)


def test_string_that_does_not_stretch_is_refused(drawn):
    stiff = small_bow(stiffness=np.inf)
    with pytest.raises(MaterialError, match="stretches"):
        shoot_from(stiff, drawn[1], ARROW, Gear())


def test_a_shot_that_does_not_converge_says_when(bow, drawn):
    with pytest.raises(ConvergenceError, match=r"followed to \d+\.\d+ ms"):
        shoot_from(bow, drawn[1], ARROW, Gear(), step=0.5)
