"""Newton's method on a strung bow, and the path that leads from state to state, compiled."""

from __future__ import annotations

import math

import numpy as np

from limbfe.beam.element import assemble
from limbfe.beam.linear import eliminate, solve_dense, substitute
from limbfe.beam.model import DRAW, MAX_RECORDED, Model, Path, Record, Work
from limbfe.beam.motion import move, twist_between, twist_increment
from limbfe.beam.string import string_equations
from limbfe.fem.compiled import compiled
from limbfe.frames import Array

TOLERANCE = 1e-9
"""Largest residual of an equilibrium: forces as a share of the largest of the chain's force scale
(`limbfe.beam.chain.force_scale`), the string's tension and the pull; moments of that times the
bow's length, lengths of the bow's length."""
MAX_ITERATIONS = MAX_RECORDED
MAX_TURN = 0.5
"""Largest rotation (rad) of a node in one Newton step; longer steps are scaled down."""
SMALLEST_STEP = 1e-4
"""Smallest part of a requested step that is still tried before giving up."""
REACHED, FAILED, SLACK = range(3)
NEWTON, ALONG = 0.0, 1.0
"""The two steps that `linearise` leaves in the columns of its work; floats, since Numba compiles a
function once for every integer or bool constant it is called with."""


@compiled
def linearise(
    model: Model, path: Path, work: Work, control: int, target: float, closing: float
) -> tuple[float, int]:
    """Build the equations at `path`, eliminate the limbs and solve for tips and string.

    Returns the residual norm (a share of the force scale, lengths as a share of the bow's) and
    the number of negative pivots in the limbs (-1: singular).
    """
    n, lower, upper = len(path.positions), model.lower, model.upper
    diag, off, rhs, a, r = work.diag, work.off, work.rhs, work.symmetric, work.residual
    for node in range(n):
        for i in range(6):
            rhs[node, i] = 0.0
            for j in range(6):
                diag[node, i, j] = 0.0
    for i in range(18):
        r[i] = 0.0
        for j in range(18):
            a[i, j] = 0.0
    for limb in range(2):
        first, last = (0, lower) if limb == 0 else (upper, n - 1)
        assemble(
            path.rotations, path.positions, model.stiffness, model.offset, model.length,
            first, last, diag, off, rhs,
        )  # fmt: skip
    string_equations(model, path, control, target, closing, a, r, work.rows)
    norm = _norm(model, path, rhs, r)
    pivots = 0
    for limb in range(2):
        start, stop = (lower - 1, 0) if limb == 0 else (upper + 1, n - 1)
        count = eliminate(diag, off, rhs, start, stop)
        pivots = -1 if count < 0 or pivots < 0 else pivots + count
        for i in range(6):
            r[6 * limb + i] += rhs[stop, i]
            for j in range(6):
                a[6 * limb + i, 6 * limb + j] += 0.5 * (diag[stop, i, j] + diag[stop, j, i])
    for i in range(18):
        work.columns[i, 0] = -r[i]
        work.columns[i, 1] = 0.0
        for j in range(18):
            work.reduced[i, j] = a[i, j] if i < 15 else work.rows[i - 15, j]
    work.columns[16 if control < 2 else 17, 1] = 1.0
    if not solve_dense(work.reduced, work.columns):
        pivots = -1
    return norm, pivots


@compiled
def _norm(model: Model, path: Path, rhs: Array, r: Array) -> float:
    n = len(rhs)
    scale = model.force
    for i in range(3, 6):
        scale = max(scale, abs(path.border[i]))
    norm = 0.0
    for node in range(n):
        if model.lower <= node <= model.upper:
            continue
        for i in range(6):
            value = rhs[node, i]
            if node == 0:
                value += r[i]
            elif node == n - 1:
                value += r[6 + i]
            value = abs(value) / (scale if i < 3 else scale * model.size)
            norm = max(norm, value) if value == value else math.inf
    for i in range(12, 18):
        value = abs(r[i]) / (scale if i < 15 else model.size)
        norm = max(norm, value) if value == value else math.inf
    return norm


@compiled
def advance(model: Model, path: Path, work: Work, along: float, factor: float) -> None:
    """Move the path by `factor` times Newton's step (`NEWTON`) or the step along it (`ALONG`)."""
    n, tangent, column = len(path.positions), along > 0.0, int(along)
    step = work.rhs
    for node in range(n):
        held = tangent or model.lower <= node <= model.upper
        for i in range(6):
            step[node, i] = 0.0 if held else -step[node, i]
    for i in range(6):
        step[0, i] = work.columns[i, column]
        step[n - 1, i] = work.columns[6 + i, column]
    for limb in range(2):
        start, stop = (model.lower - 1, 0) if limb == 0 else (model.upper + 1, n - 1)
        substitute(work.diag, work.off, step, start, stop)
    turn = 0.0
    for node in range(n):
        for i in range(3, 6):
            turn = max(turn, abs(factor * step[node, i]))
    if turn > MAX_TURN:
        factor *= MAX_TURN / turn
    for limb in range(2):
        start, stop = (model.lower, 0) if limb == 0 else (model.upper, n - 1)
        rebuild(path.rotations, path.positions, step, factor, start, stop)
    for i in range(6):
        path.border[i] += factor * work.columns[12 + i, column]


@compiled
def rebuild(
    rotations: Array, positions: Array, step: Array, factor: float, start: int, stop: int
) -> None:
    """Give each element its linear change of twist and put the nodes together again.

    From the held node `start` outwards.  Moving every node along its own increment would
    stretch a stiff axis by the square of the rotation and send Newton's method astray; this
    way strains change exactly as the linear solve said, and large steps converge.
    """
    sign = 1 if stop > start else -1
    d = np.empty(6)
    old_rotation, old_position = rotations[start].copy(), positions[start].copy()
    for node in range(start, stop, sign):
        new = node + sign
        if sign > 0:
            twist_between(old_rotation, old_position, rotations[new], positions[new], d)
            twist_increment(d, step[node], step[new], factor)
        else:
            twist_between(rotations[new], positions[new], old_rotation, old_position, d)
            twist_increment(d, step[new], step[node], factor)
            for i in range(6):
                d[i] = -d[i]
        for i in range(3):
            old_position[i] = positions[new, i]
            positions[new, i] = positions[node, i]
            for j in range(3):
                old_rotation[i, j] = rotations[new, i, j]
                rotations[new, i, j] = rotations[node, i, j]
        move(rotations[new], positions[new], d)


@compiled
def lay_out(rotations: Array, positions: Array, twist: Array, lower: int, upper: int) -> None:
    """Put the nodes together again from the elements' twists (m, 6), outwards from the grip."""
    back = np.empty(6)
    for new in range(lower - 1, -1, -1):
        for i in range(6):
            back[i] = -twist[new, i]
        rotations[new], positions[new] = rotations[new + 1], positions[new + 1]
        move(rotations[new], positions[new], back)
    for node in range(upper, len(twist)):
        rotations[node + 1], positions[node + 1] = rotations[node], positions[node]
        move(rotations[node + 1], positions[node + 1], twist[node])


@compiled
def turned_over(model: Model, path: Path, control: int) -> bool:
    """Return whether a drawn bow is pulled from the wrong side: its back is towards the archer.

    The hand's distance to the string is the same on both sides, so Newton's method may jump there.
    """
    return control == DRAW and path.border[0] < model.point[0]


@compiled
def copy_path(source: Path, target: Path) -> None:
    """Copy nodes and border of one path to another."""
    for node in range(len(source.positions)):
        for i in range(3):
            target.positions[node, i] = source.positions[node, i]
            for j in range(3):
                target.rotations[node, i, j] = source.rotations[node, i, j]
    for i in range(6):
        target.border[i] = source.border[i]


@compiled
def solve(
    model: Model, path: Path, saved: Path, work: Work, stages: Array, record: Record
) -> tuple[int, int, float]:
    """Lead the path through `stages`, halving steps where Newton fails; record each end.

    Parameters
    ----------
    path : Path
        Start; left at the last equilibrium found.
    saved : Path
        Scratch.
    stages : ndarray, shape (s, 5)
        Control code, prescribed value at the start and at the end of the stage, closing
        parameter at the start and at the end.
    record : Record
        Written: one state per stage.

    Returns
    -------
    status : int
        `REACHED`, `FAILED` (Newton) or `SLACK` (part of the string would have to push).
    done : int
        Stages completed; the residual history of a failed one is recorded behind them.
    reached : float
        Share of the next stage that was reached.
    """
    ready = False
    for stage in range(len(stages)):
        control, start, way = int(stages[stage, 0]), stages[stage, 1], stages[stage, 2]
        way -= start
        open0, open1 = stages[stage, 3], stages[stage, 4] - stages[stage, 3]
        tangent = ready and open1 == 0.0
        done, step = 0.0, 1.0
        while done < 1.0:
            copy_path(path, saved)
            at = min(1.0, done + step)
            if tangent:
                advance(model, path, work, ALONG, (at - done) * way)
            status, previous, count, pivots = FAILED, math.inf, 0, 0
            for iteration in range(MAX_ITERATIONS):
                norm, pivots = linearise(
                    model, path, work, control, start + at * way, open0 + at * open1
                )
                record.residuals[stage, iteration] = norm
                count = iteration + 1
                if not norm < 1e12 or pivots < 0:
                    break
                settled = norm < TOLERANCE
                if not settled or (norm > 1e-3 * TOLERANCE and norm < 0.3 * previous):
                    advance(model, path, work, NEWTON, 1.0)
                if settled:
                    status = REACHED
                    break
                previous = norm
            if status == REACHED and min(path.border[3], path.border[4]) < 0.0:
                status = SLACK
            elif status == REACHED and turned_over(model, path, control):
                status = FAILED
            record.counts[stage, 0], record.counts[stage, 1] = count, pivots
            tangent = status == REACHED and open1 == 0.0
            if status == REACHED:
                done = at
                step *= 2.0
                continue
            copy_path(saved, path)
            step *= 0.25
            if step < SMALLEST_STEP:
                return status, stage, done
        ready = control > 1
        _write(path, work, record, stage)
    return REACHED, len(stages), 0.0


@compiled
def _write(path: Path, work: Work, record: Record, stage: int) -> None:
    for node in range(len(path.positions)):
        for i in range(3):
            record.positions[stage, node, i] = path.positions[node, i]
            for j in range(3):
                record.rotations[stage, node, i, j] = path.rotations[node, i, j]
    for i in range(6):
        record.borders[stage, i] = path.border[i]
    for i in range(18):
        for j in range(18):
            record.symmetric[stage, i, j] = work.symmetric[i, j]
