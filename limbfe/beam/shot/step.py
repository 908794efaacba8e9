"""One step of a bow in motion and a run of them, in compiled code."""

from __future__ import annotations

import math

import numpy as np

from limbfe.beam.limbs.linear import solve_dense
from limbfe.beam.shot.band import factor_band, multiply, solve_band
from limbfe.beam.shot.bodies import body_steps, place_nodes
from limbfe.beam.shot.elements import element_steps, end_dampers
from limbfe.beam.shot.lying import add_lying
from limbfe.beam.shot.parts import FREE, LIES, Load, Motion, Scratch, ShotModel
from limbfe.beam.shot.strands import (
    add_points,
    place_nocks,
    point_moves,
    point_step,
    segment_steps,
)
from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array

TOLERANCE = 1e-8
"""Largest residual of a step, as a share of `ShotModel.force` (times the limb's length scale, 1 m,
for moments)."""
ROUNDING = 4.0 * float(np.finfo(float).eps)
"""Places are known to this, in m: a point's inertia over a step of a microsecond is not known
better than its mass times this over the step squared."""
MAX_SLOPES, MAX_PASSES = 12, 40
"""How often the equations of a step are differentiated, and looked at."""
SLOW = 0.1
"""Their factors serve for further passes as long as each leaves less of the residual than this."""
SURE = 1e-2
"""So much less of it may be left by factors of an earlier pass, as long as they serve."""


@compiled_inside
def add_limbs(model: ShotModel, work: Scratch, slopes: bool) -> None:
    """Add the forces of elements and bodies to the equations, their derivatives if asked for."""
    place, band, rhs, hand, rotations = model.place, work.band, work.rhs, work.hand, work.rotations
    force, tangent, diagonal = work.element_force, work.element_tangent, model.band
    for e in range(len(force)):
        if model.lower <= e < model.upper:
            continue
        for side in range(2):
            i0 = place[e + side]
            if i0 < 0:
                for i in range(3):
                    for j in range(3):
                        hand[i] += rotations[e + side, i, j] * force[e, side, j]
            for other in range(2):
                j0 = place[e + other]
                if i0 < 0 or j0 < 0 or not slopes:
                    continue
                for i in range(6):
                    for j in range(6):
                        band[i0 + i, diagonal + j0 + j - i0 - i] += tangent[e, side, other, i, j]
            if i0 >= 0:
                for i in range(6):
                    rhs[i0 + i, 0] += force[e, side, i]
    for node in range(len(place)):
        i0 = place[node]
        if i0 >= 0:
            for i in range(6):
                rhs[i0 + i, 0] += work.node_force[node, i]
                if not slopes:
                    continue
                for j in range(6):
                    band[i0 + i, diagonal + j - i] += work.node_tangent[node, i, j]


@compiled_inside
def add_grip(model: ShotModel, work: Scratch) -> None:
    """Add what the limbs do to a free grip, and the grip to the limbs: the band's border."""
    lower, upper, place = model.lower, model.upper, model.place
    turn, product = np.empty((6, 6)), np.empty((6, 6))
    for limb in range(2):
        held = lower if limb == 0 else upper
        # the limb's element at the grip, and which of its ends is held
        e, side = (lower - 1, 1) if limb == 0 else (upper, 0)
        if e < 0 or e >= len(work.element_force):
            continue
        carry = model.carry[held - lower]
        at = place[e + 1 - side]
        multiply(work.element_tangent[e, 1 - side, side], carry, product)
        for i in range(6):
            for k in range(6):
                work.rhs[at + i, 1 + k] += product[i, k]
                turn[k, i] = carry[i, k]
        multiply(turn, work.element_tangent[e, side, 1 - side], product)
        for k in range(6):
            for j in range(6):
                work.border[k, at + j] += product[k, j]
        _add_to_grip(work, turn, work.element_tangent[e, side, side], carry)
        for k in range(6):
            for i in range(6):
                work.corner_rhs[k, 0] += turn[k, i] * work.element_force[e, side, i]
    for k in range(6):
        work.corner_rhs[k, 0] += work.node_force[lower, k]
        for j in range(6):
            work.corner[k, j] += work.node_tangent[lower, k, j]


@compiled_inside
def _add_to_grip(work: Scratch, turned: Array, block: Array, carry: Array) -> None:
    half, whole = np.empty((6, 6)), np.empty((6, 6))
    multiply(turned, block, half)
    multiply(half, carry, whole)
    for i in range(6):
        for j in range(6):
            work.corner[i, j] += whole[i, j]


@compiled_inside
def add_hand(model: ShotModel, old: Motion, work: Scratch, new: Motion) -> None:
    """Add the hand's push on a free grip, which gives way like a spring."""
    node = model.lower
    mean, force, stiffness = np.empty(3), np.empty(3), np.zeros((3, 3))
    moved, reach = np.empty((3, 6)), np.empty((6, 3))
    residual, tangent = np.zeros(6), np.zeros((6, 6))
    point_moves(new.rotations[node], work.turn[node], model.hand_arm, moved)
    for i in range(3):
        mean[i] = 0.5 * (old.positions[node, i] + new.positions[node, i])
        for j in range(3):
            arm = old.rotations[node, i, j] + new.rotations[node, i, j]
            mean[i] += 0.5 * arm * model.hand_arm[j]
        force[i] = model.hand_stiffness * (mean[i] - model.hand_from[i]) - model.hand_push[i]
        stiffness[i, i] = 0.5 * model.hand_stiffness
    point_step(
        work.rotations[node], work.positions[node], work.half[node], mean, force, stiffness,
        moved, reach, residual, tangent, True,
    )  # fmt: skip
    for i in range(6):
        work.corner_rhs[i, 0] += residual[i]
        for j in range(6):
            work.corner[i, j] += tangent[i, j]
    for i in range(3):
        work.hand[i] = -force[i]


@compiled_inside
def add_nocks(
    model: ShotModel, old: Motion, new: Motion, work: Scratch, h: float, slopes: bool
) -> None:
    """Add what the string and the masses at the nocks do to the tips, and the derivatives if
    `slopes` are asked for."""
    last, rhs, band, diagonal = len(model.rest), work.rhs, work.band, model.band
    mean, force, stiffness = np.empty(3), np.empty(3), np.empty((3, 3))
    moved, reach = np.empty((3, 6)), np.empty((6, 3))
    residual, body = np.empty(6), np.empty((6, 6))
    for side in range(2):
        node, k = (0, 0) if side == 0 else (len(model.mass) - 1, last - 1)
        at, beside = model.place[node], model.point[0 if side == 0 else last - 2]
        mass, beyond = model.nock_mass[side], work.segment_tangent[k, 1]
        for i in range(3):
            mean[i] = 0.5 * (old.nocks[side, i] + new.nocks[side, i])
            u = (new.nocks[side, i] - old.nocks[side, i]) / h
            force[i] = work.segment_force[k, side, i]
            force[i] += mass * (2.0 * u - 2.0 * old.nock_speed[side, i]) / h
            for j in range(3):
                stiffness[i, j] = work.segment_tangent[k, 0, i, j]
            stiffness[i, i] += mass * 2.0 / (h * h)
        for i in range(6):
            residual[i] = 0.0
            for j in range(6):
                body[i, j] = 0.0
        if slopes:
            point_moves(new.rotations[node], work.turn[node], model.arms[side], moved)
        point_step(
            work.rotations[node], work.positions[node], work.half[node], mean, force, stiffness,
            moved, reach, residual, body, slopes,
        )  # fmt: skip
        for i in range(6):
            rhs[at + i, 0] += residual[i]
            if not slopes:
                continue
            for j in range(6):
                band[at + i, diagonal + j - i] += body[i, j]
            for j in range(3):
                out, back = 0.0, 0.0
                for m in range(3):
                    out += reach[i, m] * beyond[m, j]
                    back += beyond[j, m] * moved[m, i]
                band[at + i, diagonal + beside + j - at - i] += out
                band[beside + j, diagonal + at + i - beside - j] += back


@compiled
def step_equations(
    model: ShotModel, extra: float, load: Load, old: Motion, new: Motion, work: Scratch, h: float,
    slopes: bool,
) -> float:  # fmt: skip
    """Write the equations of a step at the increments and points guessed; return the residual, N.

    `extra` is the mass on the nocking point: the arrow's, and the serving's.  Without `slopes` the
    band and what else only derivatives take stay as the last call with them left them, which was
    of the same step.
    """
    _clear(work, slopes, model.grip == FREE)
    place_nodes(old, new, work, slopes)
    element_steps(model, old, new, work, h, slopes)
    body_steps(model, load, old, work, h, slopes)
    add_limbs(model, work, slopes)
    if model.grip == FREE:
        add_grip(model, work)
        add_hand(model, old, work, new)
    if len(model.rest) > 0:
        place_nocks(model, new)
        segment_steps(model, old, new, work, h, slopes)
        add_nocks(model, old, new, work, h, slopes)
        add_points(model, old, new, extra, work, h, slopes)
        if model.lies == LIES and not add_lying(model, old, new, work, h, slopes):
            return math.inf
    norm = 0.0
    for i in range(model.size):
        value = abs(work.rhs[i, 0])
        norm = max(norm, value) if value == value else math.inf
    if model.grip == FREE:
        for i in range(6):
            norm = max(norm, abs(work.corner_rhs[i, 0]))
    return norm


@compiled
def take_step(
    model: ShotModel, extra: float, load: Load, old: Motion, new: Motion, work: Scratch, h: float
) -> int:
    """Move from `old` to `new` by a step h, starting from the increments in `work` and the points
    in `new`; return how often the equations were differentiated, -1 if it does not converge.

    Newton's iteration, which goes on with the same factors while that is fast: making them is half
    of the work.  Its own correction leaves next to nothing, one by older factors a share.
    """
    heaviest = max(model.nock_mass[0], model.nock_mass[1])
    for s in range(len(model.yarn)):
        heaviest = max(heaviest, extra + model.yarn[s])
    enough = max(TOLERANCE * model.force, ROUNDING * heaviest / (h * h))
    slopes, own, count, before = True, True, 0, math.inf
    for _ in range(MAX_PASSES):
        norm = step_equations(model, extra, load, old, new, work, h, slopes)
        if norm < enough and (own or norm < SURE * enough or norm > SLOW * before):
            _end_speeds(old, new, work, h)
            end_dampers(model, old, new, h)
            return count
        if not norm < 1e12 * model.force:
            return -1
        if not slopes and norm > SLOW * before:
            slopes = True
            continue
        if slopes:
            if count == MAX_SLOPES or not _factor(work):
                return -1
            count += 1
        if not _solve(model, new, work):
            return -1
        slopes, own, before = False, slopes, norm
    return -1


@compiled_inside
def _factor(work: Scratch) -> bool:
    for i in range(len(work.band)):
        for j in range(work.band.shape[1]):
            work.factors[i, j] = work.band[i, j]
    return factor_band(work.factors)


@compiled_inside
def _end_speeds(old: Motion, new: Motion, work: Scratch, h: float) -> None:
    for node in range(len(work.delta)):
        for i in range(6):
            new.speed[node, i] = 2.0 * work.delta[node, i] / h - old.speed[node, i]
    for k in range(len(new.points)):
        for i in range(3):
            u = (new.points[k, i] - old.points[k, i]) / h
            new.point_speed[k, i] = 2.0 * u - old.point_speed[k, i]
    for side in range(2):
        for i in range(3):
            u = (new.nocks[side, i] - old.nocks[side, i]) / h
            new.nock_speed[side, i] = 2.0 * u - old.nock_speed[side, i]


@compiled_inside
def _clear(work: Scratch, slopes: bool, free: bool) -> None:
    for i in range(len(work.rhs)):
        work.rhs[i, 0] = 0.0
        if slopes:
            for j in range(work.band.shape[1]):
                work.band[i, j] = 0.0
        if free:
            for j in range(6):
                work.rhs[i, 1 + j] = work.border[j, i] = 0.0
    for i in range(6):
        work.corner_rhs[i, 0] = 0.0
        for j in range(6):
            work.corner[i, j] = 0.0
    for i in range(3):
        work.hand[i] = 0.0


@compiled
def _solve(model: ShotModel, new: Motion, work: Scratch) -> bool:
    """Solve for the changes of the increments and the string's points, and make them."""
    free = model.grip == FREE
    solve_band(work.factors, work.rhs, 7 if free else 1)
    grip = work.corner_rhs
    if free:
        for i in range(6):
            for k in range(model.size):
                f = work.border[i, k]
                if f != 0.0:
                    grip[i, 0] -= f * work.rhs[k, 0]
                    for j in range(6):
                        work.corner[i, j] -= f * work.rhs[k, 1 + j]
        if not solve_dense(work.corner, grip):
            return False
        for k in range(model.size):
            for j in range(6):
                work.rhs[k, 0] -= work.rhs[k, 1 + j] * grip[j, 0]
        for node in range(model.lower, model.upper + 1):
            for i in range(6):
                for j in range(6):
                    change = model.carry[node - model.lower, i, j] * grip[j, 0]
                    work.delta[node, i] -= change
    for node in range(len(model.mass)):
        at = model.place[node]
        if at >= 0:
            for i in range(6):
                work.delta[node, i] -= work.rhs[at + i, 0]
    for k in range(len(new.points)):
        for i in range(3):
            new.points[k, i] -= work.rhs[model.point[k] + i, 0]
    return True


@compiled
def predict(
    model: ShotModel, load: Load, old: Motion, new: Motion, work: Scratch, ratio: float
) -> None:
    """Guess a step, `ratio` times as long as the last, from the last two.

    From where things went, not from their speeds: those of vibrations that are fast beside the step
    change sign at every step.
    """
    second = 1.0 if ratio == 1.0 else 0.0
    for node in range(len(model.mass)):
        held = model.place[node] < 0 and model.grip != FREE
        for i in range(6):
            went, before = work.went[0, node, i], work.went[1, node, i]
            guess = ratio * went + second * (went - before)
            work.delta[node, i] = 0.0 if held else guess
    if model.grip != FREE:
        for node in range(model.lower, model.upper + 1):
            for i in range(6):
                for j in range(6):
                    turn = model.carry[node - model.lower, i, j]
                    work.delta[node, i] += turn * load.grip_step[j]
    for k in range(len(new.points)):
        for i in range(3):
            went, before = work.points_went[0, k, i], work.points_went[1, k, i]
            new.points[k, i] = old.points[k, i] + ratio * went + second * (went - before)


@compiled
def accept(old: Motion, new: Motion, work: Scratch) -> None:
    """Remember where a step went, for the next guess."""
    for node in range(len(work.delta)):
        for i in range(6):
            work.went[1, node, i] = work.went[0, node, i]
            work.went[0, node, i] = work.delta[node, i]
    for k in range(len(new.points)):
        for i in range(3):
            work.points_went[1, k, i] = work.points_went[0, k, i]
            work.points_went[0, k, i] = new.points[k, i] - old.points[k, i]
