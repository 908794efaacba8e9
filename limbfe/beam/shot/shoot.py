"""Let a drawn bow go: the push, the leaving of the arrow, and what comes after."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.equilibrium.state import BowState
from limbfe.beam.shot.energy import Energies, energies, tensions, touching
from limbfe.beam.shot.lying import struck
from limbfe.beam.shot.parts import Load, Motion, Scratch, ShotModel, new_scratch
from limbfe.beam.shot.run import DONE, FAILED, LEFT, Record, keep, new_record, run
from limbfe.beam.shot.setup import Gear, shot_model
from limbfe.beam.shot.step import predict, take_step
from limbfe.errors import ConvergenceError
from limbfe.frames import Array
from limbfe.units import both_lengths

STEP = 50e-6
"""Default step, s."""
AFTER = 0.025
"""How long the bow is followed after the arrow has left, s: more than the slowest period of a
braced bow."""
DRY = 0.040
"""How long a bow let go without an arrow is followed, s."""
LONGEST = 40.0
"""A push is given up after so many times the time the arrow would take at the first force."""
ROOM, SPARE, MOST = 1.5, 0.03, 0.6
"""So many times what was seen to touch, and so much more (m), may lie on a limb in a shot, but not
more than this share of the half string."""
LONGER, LONG = 6, 1.5
"""How often a string is shot that comes down beyond that, with at least so many times more; from
the second time on with the square of that, as it is without an arrow, which throws the string
farther down from the start."""
BARE_NOCKING = 1e-5
"""Mass left on the nocking point of a string without any (kg), which would have no place."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shot:
    """One shot, from the release until well after the arrow has left.

    Attributes
    ----------
    model : ShotModel
    record : Record
        Every step, in the world frame of the full draw: the arrow flies towards -X.
    arrow : float, kg
        0 for a bow let go without one.
    left : int or None
        The state in which the arrow leaves; None without an arrow.
    energy : Energies
    tension : ndarray, shape (k, s), N
        Of every segment of the string, lower nock to upper nock.
    touching : ndarray, shape (k, 2), m
        How much of the string lies on the lower and the upper limb.
    comes_down : (float, float) or None
        When (s) the string came down on a limb where it is not followed, and how far from the nock
        (m) that goes; it flew on through the limb there.
    """

    model: ShotModel
    record: Record
    arrow: float
    left: int | None
    energy: Energies
    tension: Array
    touching: Array
    comes_down: tuple[float, float] | None = None

    @property
    def time(self) -> Array:
        """Since the release, shape (k,), s."""
        return self.record.time

    @property
    def nocking(self) -> Array:
        """Where the nocking point is, shape (k, 3), m."""
        return self.record.points[:, self.model.nocking]

    @property
    def speed(self) -> float:
        """Of the arrow as it leaves, m/s; 0 without one."""
        if self.left is None:
            return 0.0
        return -float(self.record.point_speed[self.left, self.model.nocking, 0])

    @property
    def stored(self) -> float:
        """Energy of the drawn bow, J, counted from no strain at all."""
        return float(self.energy.total[0])


def shoot_from(
    bow: Bow,
    state: BowState,
    arrow: float,
    gear: Gear,
    *,
    step: float = STEP,
    after: float = AFTER,
) -> Shot:
    """Let a drawn bow go.

    Parameters
    ----------
    bow : Bow
    state : BowState
        Drawn.
    arrow : float, kg
        A mass on the nocking point; 0 for none (a dry release).
    gear : Gear
    step : float, s
    after : float, s
        How long the bow is followed once the arrow has left; without one it is followed for `DRY`
        in all.

    Raises
    ------
    ConvergenceError
        If a step does not converge or the arrow does not leave; says at which time.  If the string
        comes down on most of a limb before the arrow has left.

    Notes
    -----
    Where the string comes down on a limb beyond `gear.lies` it is shot again, with more of it that
    may lie there.  What a string does that comes down on most of a limb, after the arrow has left
    or without one, is not followed: `Shot.comes_down` tells.
    """
    force, most = float(state.draw_force), MOST * float(state.string_lengths.min())
    best: Shot | None = None
    failure: ConvergenceError | None = None
    first = 0
    if arrow == 0.0 and LONG * gear.lies < most:
        first, gear = 1, replace(gear, lies=LONG * gear.lies)
    for again in range(first, LONGER):
        more = LONG if again == 0 or LONG**2 * gear.lies >= most else LONG**2
        wanted = more * gear.lies
        try:
            model, motion = shot_model(bow, state, gear)
            shot = shoot(model, motion, arrow, gear.serving, force, step, after)
        except ConvergenceError as error:
            # a point of the string may have come down beside its limb
            failure = error
        else:
            kept = shot.record
            far, when = struck(model, kept.rotations, kept.positions, kept.nocks, kept.points)
            if far == 0.0:
                return shot
            if shot.left is None or when > shot.left:
                best = replace(shot, comes_down=(float(shot.time[when]), far))
            failure = _comes_down(far, state)
            wanted = max(room_to_lie(far), wanted)
        if not 0.0 < wanted < most:
            break
        gear = replace(gear, lies=wanted)
    if best is None and failure is not None:
        raise failure
    assert best is not None
    return best


def _comes_down(far: float, state: BowState) -> ConvergenceError:
    return ConvergenceError(
        f"shot: with the arrow still on it the string comes down on a limb {both_lengths(far)} "
        "from its nock and farther, where a shot does not follow it; look at the brace height and "
        "at the shape of the limbs",
        draw_length=state.draw_length,
    )


def room_to_lie(touched: float) -> float:
    """Return how much of the string (m) to let lie where so much of a limb was seen touched."""
    return ROOM * touched + SPARE


def shoot(
    model: ShotModel,
    motion: Motion,
    arrow: float,
    serving: float,
    force: float,
    step: float,
    after: float,
) -> Shot:
    """Run a model from a motion at rest; see `shoot_from`.  `force` is the draw weight, N."""
    work = new_scratch(model)
    load = no_load(model)
    if arrow > 0.0:
        reach = float(motion.points[model.nocking, 0] - motion.nocks[:, 0].mean())
        mass = arrow + serving + model.yarn.sum() / 3.0
        most = LONGEST * math.sqrt(mass * reach / force)
        push = _push(model, motion, arrow + serving, work, step, most)
        records, carried = [push], [np.full(len(push.time), arrow + serving)]
        start = push.motion(-1)
    else:
        after, records, carried = DRY, [], []
        start = motion.copy()
    bare = serving if model.yarn.sum() > 0.0 else max(serving, BARE_NOCKING)
    if after > 0.0 or not records:
        left = len(records[0].time) - 1 if records else 0
        time = float(records[0].time[-1]) if records else 0.0
        steps = max(round(after / step), 1)
        rest = new_record(model, steps * 2 + 2)
        keep(time, start, work, rest, 0)
        status, last = run(model, bare, load, start, work, rest, 0, steps + 1, step, False)
        if status == FAILED:
            _gave_up(float(rest.time[last]), "after the arrow has left" if records else "")
        records.append(_cut(rest, 1 if left else 0, last + 1))
        carried.append(np.full(len(records[-1].time), bare))
    record = Record(*(np.concatenate(arrays) for arrays in zip(*records, strict=True)))
    mass = np.concatenate(carried)
    return _shot(model, record, arrow, mass, len(records[0].time) - 1 if arrow > 0.0 else None)


def no_load(model: ShotModel) -> Load:
    """Return a load of nothing."""
    return Load(np.zeros((len(model.mass), 6)), np.zeros(6))


def _shot(model: ShotModel, record: Record, arrow: float, carried: Array, left: int | None) -> Shot:
    energy = energies(model, record, carried)
    if left is not None:
        speed = record.point_speed[left, model.nocking]
        energy.arrow[left + 1 :] += 0.5 * arrow * float(speed @ speed)
    return Shot(
        model=model, record=record, arrow=arrow, left=left, energy=energy,
        tension=tensions(model, record), touching=touching(model, record),
    )  # fmt: skip


def _push(
    model: ShotModel, motion: Motion, extra: float, work: Scratch, h: float, most: float
) -> Record:
    """Return the steps from the release to the leaving of the arrow, which is the last of them."""
    load, now = no_load(model), motion.copy()
    steps = max(round(most / 8.0 / h), 40)
    record = new_record(model, steps)
    keep(0.0, now, work, record, 0)
    last = 0
    while True:
        status, last = run(model, extra, load, now, work, record, last, len(record.time), h, True)
        if status == LEFT:
            break
        time = float(record.time[last])
        if status == FAILED:
            _gave_up(time, "with the arrow on the string")
        if status == DONE and time > most:
            _gave_up(time, "and the arrow was still on the string")
        longer = new_record(model, steps)
        record = Record(*(np.concatenate(pair) for pair in zip(record, longer, strict=True)))
    return _leave(model, record, extra, work, last, h)


def _leave(
    model: ShotModel, record: Record, extra: float, work: Scratch, last: int, h: float
) -> Record:
    """End a push where the arrow's acceleration is zero, between the middles of two steps."""
    load, now = no_load(model), record.motion(last)
    before, new = record.motion(max(last - 1, 0)), record.motion(last)
    own = float(record.time[last] - record.time[last - 1]) if last else h
    speed = model.nocking
    predict(model, load, now, new, work, h / own)
    if take_step(model, extra, load, now, new, work, h) < 0:
        _gave_up(float(record.time[last]), "as the arrow leaves")
    slows = (new.point_speed[speed, 0] - now.point_speed[speed, 0]) / h
    drives = (now.point_speed[speed, 0] - before.point_speed[speed, 0]) / own
    time = -0.5 * own - drives * 0.5 * (own + h) / (slows - drives)
    if time <= 0.0:
        last, now, time = last - 1, before, time + own
    if time < 1e-3 * h:
        return _cut(record, 0, last + 1)
    new = now.copy()
    predict(model, load, now, new, work, time / own)
    if take_step(model, extra, load, now, new, work, time) < 0:
        _gave_up(float(record.time[last]), "as the arrow leaves")
    keep(float(record.time[last]) + time, new, work, record, last + 1)
    return _cut(record, 0, last + 2)


def _cut(record: Record, start: int, stop: int) -> Record:
    return Record(*(array[start:stop] for array in record))


def _gave_up(time: float, where: str) -> None:
    raise ConvergenceError(
        f"the shot was followed to {1e3 * time:.2f} ms {where}".rstrip()
        + "; take a shorter step, or look whether string and limbs are what they should be"
    )
