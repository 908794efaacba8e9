"""Steps in a row, compiled, and what is kept of them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from limbfe.beam.shot.parts import LIES, Load, Motion, Scratch, ShotModel
from limbfe.beam.shot.step import accept, predict, take_step
from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array

DONE, FAILED, LEFT = range(3)
"""How a run ended: after all its steps, where a step did not converge, where the string began to
hold the arrow back."""
MOST_HALVINGS = 6
STRAIGHT = 0.05
"""The arrow stays on the string until the string is straight to this share of where the run began:
before that a nock holds it through the string's own waves."""


class Record(NamedTuple):
    """Every step of a run: arrays as in `Motion` with the steps before, shape (k, ...).

    Attributes
    ----------
    time : ndarray, shape (k,), s
    pull : ndarray, shape (k, s), N
        Mean pull of the string's segments in the step that ended here.
    hand : ndarray, shape (k, 3), N
        Mean force the grip is held with in that step.
    """

    time: Array
    rotations: Array
    positions: Array
    speed: Array
    points: Array
    point_speed: Array
    nocks: Array
    nock_speed: Array
    twist: Array
    delayed: Array
    leaves: Array
    along: Array
    pull: Array
    hand: Array

    def motion(self, k: int) -> Motion:
        """Return a copy of the motion at step `k`."""
        return Motion(*(array[k].copy() for array in self[1:12]))


def new_record(model: ShotModel, steps: int) -> Record:
    """Return room for `steps` states."""
    n, s = len(model.mass), len(model.rest)
    points = max(s - 1, 0)
    return Record(
        time=np.zeros(steps),
        rotations=np.zeros((steps, n, 3, 3)),
        positions=np.zeros((steps, n, 3)),
        speed=np.zeros((steps, n, 6)),
        points=np.zeros((steps, points, 3)),
        point_speed=np.zeros((steps, points, 3)),
        nocks=np.zeros((steps, 2, 3)),
        nock_speed=np.zeros((steps, 2, 3)),
        twist=np.zeros((steps, n - 1, 6)),
        delayed=np.zeros((steps, n - 1, len(model.delays), 6)),
        leaves=np.zeros((steps, 2, 3)),
        along=np.zeros((steps, 2, 2)),
        pull=np.zeros((steps, s)),
        hand=np.zeros((steps, 3)),
    )


@compiled
def copy_motion(old: Motion, new: Motion) -> None:
    """Copy one motion into another."""
    for node in range(len(old.positions)):
        for i in range(3):
            new.positions[node, i] = old.positions[node, i]
            for j in range(3):
                new.rotations[node, i, j] = old.rotations[node, i, j]
        for i in range(6):
            new.speed[node, i] = old.speed[node, i]
    for k in range(len(old.points)):
        for i in range(3):
            new.points[k, i] = old.points[k, i]
            new.point_speed[k, i] = old.point_speed[k, i]
    for side in range(2):
        for i in range(3):
            new.nocks[side, i] = old.nocks[side, i]
            new.nock_speed[side, i] = old.nock_speed[side, i]
            new.leaves[side, i] = old.leaves[side, i]
        for i in range(2):
            new.along[side, i] = old.along[side, i]
    for e in range(len(old.twist)):
        for i in range(6):
            new.twist[e, i] = old.twist[e, i]
            for d in range(old.delayed.shape[1]):
                new.delayed[e, d, i] = old.delayed[e, d, i]


@compiled
def keep(time: float, motion: Motion, work: Scratch, record: Record, k: int) -> None:
    """Write a motion as the k-th state of a record."""
    record.time[k] = time
    kept = Motion(
        record.rotations[k], record.positions[k], record.speed[k], record.points[k],
        record.point_speed[k], record.nocks[k], record.nock_speed[k], record.twist[k],
        record.delayed[k], record.leaves[k], record.along[k],
    )  # fmt: skip
    copy_motion(motion, kept)
    for s in range(len(work.pull)):
        record.pull[k, s] = work.pull[s]
    for i in range(3):
        record.hand[k, i] = work.hand[i]


@compiled
def run(
    model: ShotModel, extra: float, load: Load, now: Motion, work: Scratch, record: Record,
    start: int, stop: int, h: float, watch: bool,
) -> tuple[int, int]:  # fmt: skip
    """Fill a record from state `start`, which is written already, up to before `stop`.

    Parameters
    ----------
    extra : float, kg
        Mass on the nocking point beside the string's.
    now : Motion
        State `start`; overwritten by the last one reached.
    h : float, s
        A step that does not converge is halved, at most `MOST_HALVINGS` times; every state counts.
    watch : bool
        End where the string, straight, would hold the mass on the nocking point back.

    Returns
    -------
    status : int
    last : int
        The last state written.
    """
    new = _like(now)
    last, step, k = h, h, start
    first = _gap(model, now)
    while k + 1 < stop:
        predict(model, load, now, new, work, step / last)
        if take_step(model, extra, load, now, new, work, step) < 0:
            step *= 0.5
            if step < h / 2**MOST_HALVINGS:
                return FAILED, k
            continue
        if watch:
            slows = new.point_speed[model.nocking, 0] > now.point_speed[model.nocking, 0]
            if slows and _gap(model, new) < STRAIGHT * first:
                return LEFT, k
        k += 1
        keep(record.time[k - 1] + step, new, work, record, k)
        accept(now, new, work)
        copy_motion(new, now)
        last = step
        step = min(h, 2.0 * step)
    return DONE, k


@compiled_inside
def _gap(model: ShotModel, motion: Motion) -> float:
    """Return how far the nocking point lies behind the middle of where the string leaves the limbs
    (along X)."""
    if len(motion.points) == 0:
        return 0.0
    leaves = motion.leaves if model.lies == LIES else motion.nocks
    middle: float = 0.5 * (leaves[0, 0] + leaves[1, 0])
    return float(motion.points[model.nocking, 0]) - middle


@compiled_inside
def _like(motion: Motion) -> Motion:
    new = Motion(
        np.empty_like(motion.rotations), np.empty_like(motion.positions),
        np.empty_like(motion.speed), np.empty_like(motion.points),
        np.empty_like(motion.point_speed), np.empty_like(motion.nocks),
        np.empty_like(motion.nock_speed), np.empty_like(motion.twist),
        np.empty_like(motion.delayed), np.empty_like(motion.leaves), np.empty_like(motion.along),
    )  # fmt: skip
    copy_motion(motion, new)
    return new
