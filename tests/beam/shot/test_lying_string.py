"""Shots of bows whose string comes to lie on the limbs.

Rigid levers with an arc, on springs, against two unknowns solved by SciPy: the string is the
tangent from the nocking point to the arc and the way along it (geometry of a circle, written here
apart).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from limbfe.beam import Bow, BowString, brace, draw
from limbfe.beam.shot.bodies import place_nodes
from limbfe.beam.shot.energy import segment_lengths
from limbfe.beam.shot.lying import add_lying, string_line, struck
from limbfe.beam.shot.parts import FREE_ENDS, LIES, new_scratch
from limbfe.beam.shot.setup import Gear, shot_model
from limbfe.beam.shot.shoot import Shot, no_load, room_to_lie, shoot, shoot_from
from limbfe.beam.shot.step import step_equations
from limbfe.errors import ConvergenceError

from ..strung.recurved import lever, recurve, sideways_recurve

ARROW = 0.03
G, A, ANGLE, K, TIP = 0.05, 0.65, 0.8, 100.0, 0.012


def weighed(bow: Bow, mass: float, string: float = 0.0) -> Bow:
    """A bow of `mass` (kg/m), its string's mass in kg."""
    each = np.diag([mass] * 3 + [1e-4 * mass] * 3)
    chain = replace(bow.chain, mass=np.broadcast_to(each, bow.chain.mass.shape))
    yarn = BowString(
        stiffness=bow.string.stiffness, mass=string,
        nock_lower=bow.string.nock_lower, nock_upper=bow.string.nock_upper,
    )  # fmt: skip
    return replace(bow, chain=chain, string=yarn)


@pytest.fixture(scope="module")
def bow() -> Bow:
    return weighed(recurve(elements=8), 0.35, 6e-3)


@pytest.fixture(scope="module")
def drawn(bow: Bow) -> tuple:
    braced = brace(bow, height=0.15)
    return braced, draw(bow, braced, np.linspace(0.2, 0.6, 9)).states


@pytest.fixture(scope="module")
def gear(drawn: tuple) -> Gear:
    return Gear(lies=room_to_lie(float(drawn[0].string_lies.max())))


@pytest.fixture(scope="module")
def shot(bow: Bow, drawn: tuple, gear: Gear) -> Shot:
    return shoot_from(bow, drawn[1][-1], ARROW, gear)


class Lever:
    """Two rigid levers and an elastic string without mass, from theta and the nocking point."""

    def __init__(self, radius: float, EA: float, rest: float) -> None:
        self.radius, self.EA, self.rest = radius, EA, rest
        end = np.array([-radius * (1.0 - np.cos(ANGLE)), A + radius * np.sin(ANGLE)])
        self.inertia = TIP * float(end @ end)

    def string(self, theta: float, place: float) -> tuple[float, float, float, float]:
        """Length of half the string, its derivatives by both, and how much of it touches."""
        # the nocking point in the lever's axes: x towards the archer, y along the straight part
        c, s = np.cos(theta), np.sin(theta)
        x, y = place * c + G * s, place * s - G * c
        dx = np.array([-place * s + G * c, place * c + G * s])
        back = np.array([c, s])
        centre = np.array([-self.radius, A])
        away = np.array([x, y]) - centre
        d = float(np.hypot(*away))
        if d > self.radius:
            # the point of tangency, as the angle along the arc from its root
            beta = np.arctan2(away[1], away[0]) + np.arccos(self.radius / d)
        if d <= self.radius or beta >= ANGLE:
            beta, touch = ANGLE, 0.0
        else:
            touch = self.radius * (ANGLE - beta)
        leaves = centre + self.radius * np.array([np.cos(beta), np.sin(beta)])
        free = np.array([x, y]) - leaves
        length = float(np.hypot(*free))
        unit = free / length
        return touch + length, float(unit @ dx), float(unit @ back), touch

    def rates(self, _: float, y: np.ndarray) -> list[float]:
        theta, turn, place, speed = y
        size, by_theta, by_place, _ = self.string(theta, place)
        tension = self.EA * max(size / self.rest - 1.0, 0.0)
        return [
            turn,
            (-K * theta - tension * by_theta) / self.inertia,
            speed,
            -2.0 * tension * by_place / ARROW,
        ]


@pytest.mark.parametrize("radius", [0.25, 0.02], ids=["arc", "nearly a kink"])
def test_rigid_lever_with_an_arc_moves_as_two_unknowns_solved_by_scipy(radius: float):
    EA = 60e3
    bow = weighed(lever(radius=radius, EA=EA, elements=6), 0.0)
    braced = brace(bow, height=0.15)
    state = draw(bow, braced, np.linspace(0.2, 0.7, 11)).states[-1]
    assert braced.string_lies.min() > 0.0 == state.string_lies.max()
    gear = Gear(lies=0.3 * float(state.string_lengths[0]), tip_mass=(TIP, TIP))
    shot = shoot_from(bow, state, ARROW, gear, step=1e-5, after=4e-3)
    plain = Lever(radius, EA, float(state.string_lengths[0]))
    ends = state.positions[-1] - np.array([0.0, 0.0, G])
    straight = np.array([-radius * (1.0 - np.cos(ANGLE)), A + radius * np.sin(ANGLE)])
    theta = np.arctan2(ends[0], ends[2]) - np.arctan2(straight[0], straight[1])
    start = [theta, 0.0, float(state.nocking_point[0]), 0.0]
    times = shot.time[: shot.left + 1]
    found = solve_ivp(
        plain.rates, (0.0, times[-1]), start, "DOP853", rtol=1e-11, atol=1e-12, t_eval=times
    ).y
    tips = shot.record.positions[: shot.left + 1, -1] - np.array([0.0, 0.0, G])
    turned = np.arctan2(tips[:, 0], tips[:, 2]) - np.arctan2(straight[0], straight[1])
    assert turned == pytest.approx(found[0], abs=2e-4)
    assert shot.nocking[: shot.left + 1, 0] == pytest.approx(found[2], abs=5e-5)
    assert shot.speed == pytest.approx(-found[3, -1], rel=2e-4)
    lies = [plain.string(*found[[0, 2], k])[3] for k in range(len(times))]
    assert max(lies) > 0.1 * radius * ANGLE
    assert shot.touching[: shot.left + 1, 1] == pytest.approx(lies, abs=2e-3 * radius + 1e-4)
    # the bow stays a mirror of itself
    assert shot.touching[:, 0] == pytest.approx(shot.touching[:, 1], abs=1e-9)


def test_energy_is_kept_while_the_string_comes_down_and_lifts_off(bow, drawn, gear, shot):
    braced, states = drawn
    work = states[-1].strain_energy + states[-1].string_energy
    work -= braced.strain_energy + braced.string_energy
    assert shot.touching[0].max() == 0.0 < shot.touching[shot.left].min()
    assert np.ptp(shot.energy.total) < 1e-5 * work
    fine = shoot_from(bow, states[-1], ARROW, gear, step=2.5e-5)
    assert np.ptp(shot.energy.total) / np.ptp(fine.energy.total) == pytest.approx(4.0, rel=0.5)


def test_energy_is_kept_out_of_the_plane_too(gear):
    """Limbs that turn and bend aside as they bend, unlike each other, lead the string aside."""
    bow = weighed(sideways_recurve(), 0.35, 6e-3)
    braced = brace(bow, height=0.15)
    state = draw(bow, braced, np.linspace(0.2, 0.6, 9)).states[-1]
    work = state.strain_energy + state.string_energy
    work -= braced.strain_energy + braced.string_energy
    shots = [shoot_from(bow, state, ARROW, gear, step=h) for h in (5e-5, 2.5e-5)]
    shot = shots[0]
    assert shot.touching[0].max() == 0.0 < shot.touching[shot.left].min()
    assert np.ptp(shot.record.positions[:, -1, 1]) > 5e-3
    spread = [np.ptp(one.energy.total) for one in shots]
    assert spread[0] < 2e-5 * work
    assert spread[0] / spread[1] == pytest.approx(4.0, rel=0.5)


def test_speed_hardly_hangs_on_steps_string_points_and_room(bow, drawn, gear, shot):
    full = drawn[1][-1]
    speeds = [
        shoot_from(bow, full, ARROW, replace(gear, **more), step=h, after=0.0).speed
        for more, h in (({}, 2.5e-5), ({"segments": 16}, 5e-5), ({"lies": 1.4 * gear.lies}, 5e-5))
    ]
    assert speeds[0] == pytest.approx(shot.speed, rel=2e-4)
    # as of a string that touches nothing, whose own waves ask for points
    assert speeds[1] == pytest.approx(shot.speed, rel=2.5e-3)
    assert speeds[2] == pytest.approx(shot.speed, rel=2e-4)


def test_a_string_that_flies_through_the_limbs_is_too_fast(bow, drawn, shot):
    """Its brace is higher by what the touching string was bent round, so it gives up more."""
    model, motion = shot_model(bow, drawn[1][-1], Gear())
    assert model.lies == FREE_ENDS
    through = shoot(model, motion, ARROW, 0.0, drawn[1][-1].draw_force, 5e-5, 0.0)
    assert 1.001 < through.speed / shot.speed < 1.1


def test_let_go_without_room_it_is_found_to_come_down_and_shot_again(bow, drawn, shot):
    again = shoot_from(bow, drawn[1][-1], ARROW, Gear())
    assert again.model.lies == LIES
    assert again.speed == pytest.approx(shot.speed, rel=1e-3)


@pytest.mark.parametrize(
    ("arrow", "given"), [(ARROW, [0.1, 0.15, 0.3375, 0.50625]), (0.0, [0.15, 0.3375, 0.50625])]
)
def test_room_grows_faster_from_the_second_time_on_and_without_an_arrow(
    bow, drawn, monkeypatch, arrow, given
):
    """As long as there is so much of the limb."""
    rooms, state = [], replace(drawn[1][-1], string_lengths=np.array([0.9, 0.92]))

    def failing(bow, state, gear):
        rooms.append(gear.lies)
        raise ConvergenceError("a point came down beside its limb")

    monkeypatch.setattr("limbfe.beam.shot.shoot.shot_model", failing)
    with pytest.raises(ConvergenceError, match="beside its limb"):
        shoot_from(bow, state, arrow, Gear(lies=0.1))
    assert rooms == pytest.approx(given)


def test_where_it_came_down_is_seen_along_the_rulings_of_a_limb_turned_aside():
    """A shape turned about the upright is the same shape, whichever way the bow's own Y points."""
    bow = weighed(sideways_recurve(), 0.35, 6e-3)
    state = draw(bow, brace(bow, height=0.15), [0.4, 0.6]).states[-1]
    model, motion = shot_model(bow, state, Gear())
    record = shoot(model, motion, ARROW, 0.0, state.draw_force, 5e-5, 0.0).record
    shapes = (record.positions, record.nocks, record.points)
    far, when = struck(model, record.rotations, *shapes)
    assert far > 0.05
    for angle in (0.8, 2.0):
        c, s = np.cos(angle), np.sin(angle)
        turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        turned = [np.ascontiguousarray(shape @ turn.T) for shape in shapes]
        found = struck(model, np.ascontiguousarray(turn @ record.rotations), *turned)
        assert found == (pytest.approx(far), when)


def test_it_starts_at_rest_from_a_draw_on_which_it_still_lies(bow, drawn, gear):
    state = next(one for one in drawn[1] if one.string_lies.min() > 1e-3)
    model, motion = shot_model(bow, state, gear)
    # the arrow is what pulls: everything else is in balance
    work, load = new_scratch(model), no_load(model)
    step_equations(model, 0.0, load, motion, motion.copy(), work, 1e6, True)
    nocking = model.point[model.nocking]
    pulled = work.rhs[:, 0].copy()
    assert pulled[nocking] == pytest.approx(state.draw_force, rel=1e-6)
    pulled[nocking : nocking + 3] = 0.0
    assert np.abs(pulled).max() < 1e-6 * state.draw_force
    size = segment_lengths(model, _one_state(motion))[0]
    assert size / model.rest - 1.0 == pytest.approx(
        np.repeat(state.string_tension / bow.string.stiffness, gear.segments), rel=1e-7
    )
    line = string_line(model, motion)
    assert np.linalg.norm(np.diff(line, axis=0), axis=1).sum() == pytest.approx(
        size.sum(), rel=1e-5
    )


def _one_state(motion):
    from limbfe.beam.shot.run import Record

    return Record(np.zeros(1), *(array[None] for array in motion), np.zeros(1), np.zeros((1, 3)))


def test_what_the_touching_string_does_has_its_exact_derivatives(bow, drawn, gear):
    """Central differences, in the middle of a step, in the bow's plane and out of it."""
    state = next(one for one in drawn[1] if one.string_lies.min() > 1e-3)
    model, old = shot_model(bow, state, replace(gear, string_lag=1e-4))
    work, h = new_scratch(model), 1e-3
    generator = np.random.default_rng(7)
    free = model.place >= 0
    reach = np.array([1e-4, 1e-3, 1e-4, 5e-3, 5e-3, 5e-3])
    delta = generator.normal(size=(len(free), 6)) * reach * free[:, None]
    moved = generator.normal(size=old.points.shape) * np.array([1e-3, 1e-2, 1e-3])

    def at(change: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        new = old.copy()
        work.delta[:], work.rhs[:], work.band[:] = delta, 0.0, 0.0
        new.points[:] = old.points + moved
        for node in np.flatnonzero(free):
            work.delta[node] += change[model.place[node] : model.place[node] + 6]
        for k, place in enumerate(model.point):
            new.points[k] += change[place : place + 3]
        place_nodes(old, new, work, True)
        assert add_lying(model, old, new, work, h, True)
        assert new.along[:, 1].min() > 1.0
        return work.rhs[:, 0].copy(), work.band.copy()

    force, band = at(np.zeros(model.size))
    tangent = np.zeros((model.size, model.size))
    for shift in range(-model.band, model.band + 1):
        rows = np.arange(max(0, -shift), min(model.size, model.size - shift))
        tangent[rows, rows + shift] = band[rows, model.band + shift]
    assert np.abs(force).max() > 100.0
    for column in range(model.size):
        change = np.zeros(model.size)
        change[column] = 1e-5
        slope = (at(change)[0] - at(-change)[0]) / 2e-5
        assert slope == pytest.approx(tangent[:, column], abs=1e-6 * np.abs(tangent).max())


def test_where_nothing_touches_the_shot_is_as_without_a_bed(bow, drawn, gear):
    """Until the string comes down; with segments as long in both."""
    full = drawn[1][-1]
    model, motion = shot_model(bow, full, gear)
    lying = shoot(model, motion, ARROW, 0.0, full.draw_force, 5e-5, 0.0)
    bare, _ = shot_model(bow, full, Gear())
    bare = bare._replace(rest=model.rest, yarn=model.yarn)
    free = shoot(bare, motion, ARROW, 0.0, full.draw_force, 5e-5, 0.0)
    assert [one.model.lies for one in (lying, free)] == [LIES, FREE_ENDS]
    count = int((lying.touching.max(axis=1) > 0.0).argmax())
    assert count > 100
    # the way round nothing is the straight way: what is left is the step's error
    places = [one.record.positions[:count] for one in (lying, free)]
    assert places[0] == pytest.approx(places[1], abs=2e-6)


def test_damped_it_comes_to_rest_as_braced(bow, drawn, gear):
    braced, states = drawn
    gear = replace(gear, shares=(1.0,), delays=(5e-3,), string_lag=4e-3, segments=2)
    shot = shoot_from(bow, states[-1], ARROW, gear, step=5e-4, after=1.2)
    # the string still rings across itself, by a tenth of a millimetre, which hardly stretches it
    last = slice(-200, None)
    assert shot.nocking[last, 0].mean() == pytest.approx(braced.nocking_point[0], abs=1e-5)
    assert shot.touching[last].mean(axis=0) == pytest.approx(braced.string_lies, rel=1e-4)
    assert shot.tension[last].mean(axis=0) == pytest.approx(
        np.repeat(braced.string_tension, gear.segments), rel=1e-4
    )
