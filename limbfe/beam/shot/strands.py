"""The string of a step, in compiled code: segments in a row from nock to nock.

A segment of length S, unstretched l, pulls with ``T = EA (S - l)/l`` when it is stretched and with
nothing when it is not.  In a step from S to S' it pulls along ``(r + r')/(S + S')`` with

    T = (V(S') - V(S))/(S' - S),   V the energy of the segment,

which does exactly the work that V loses, from slack to taut too.  Its mass moves linearly between
its ends (consistent mass, a third at either end and a sixth between), so a massive string of one
straight segment counts a third of its mass at the nocking point.  The nocks are points of the tips'
bodies.

References
----------
O. Gonzalez, J. C. Simo, On the stability of symplectic and energy-momentum algorithms for
non-linear Hamiltonian systems with symmetry, Comput. Methods Appl. Mech. Engng 134 (1996), 197-222
(the quotient of energies; from memory).
"""

from __future__ import annotations

import math

import numpy as np

from limbfe.beam.shot.parts import LIES, Motion, Scratch, ShotModel
from limbfe.compiled import compiled_inside
from limbfe.frames import Array


@compiled_inside
def segment_pull(
    stiffness: float, lag: float, rest: float, before: float, after: float, h: float
) -> tuple[float, float]:
    """Return the pull of a segment in a step and its derivative by the length at its end."""
    unit = stiffness / rest
    x0, x1 = before - rest, after - rest
    if x0 <= 0.0 and x1 <= 0.0:
        return 0.0, 0.0
    if x0 >= 0.0 and x1 >= 0.0:
        pull, slope = 0.5 * unit * (x0 + x1), 0.5 * unit
    else:
        y0, y1 = max(x0, 0.0), max(x1, 0.0)
        pull = 0.5 * unit * (y1 * y1 - y0 * y0) / (x1 - x0)
        slope = (unit * y1 - pull) / (x1 - x0)
    pull += lag * unit * (x1 - x0) / h
    slope += lag * unit / h
    return (pull, slope) if pull > 0.0 else (0.0, 0.0)


@compiled_inside
def place_nocks(model: ShotModel, motion: Motion) -> None:
    """Write where the nocks of a motion are."""
    for side in range(2):
        node = 0 if side == 0 else len(motion.positions) - 1
        for i in range(3):
            motion.nocks[side, i] = motion.positions[node, i]
            for j in range(3):
                motion.nocks[side, i] += motion.rotations[node, i, j] * model.arms[side, j]


@compiled_inside
def segment_steps(
    model: ShotModel, old: Motion, new: Motion, work: Scratch, h: float, slopes: bool
) -> None:
    """Write what every segment and its mass take from its two ends (s, 2, 3), and derivatives if
    `slopes` are asked for.

    `work.segment_tangent` (s, 2, 3, 3): of an end's by its own place, and by that of the other end.
    """
    last = len(model.rest)
    rest, yarn, pulls = model.rest, model.yarn, work.pull
    force, tangent, r, x = work.segment_force, work.segment_tangent, np.empty(3), np.empty(3)
    a, b = np.empty(3), np.empty(3)
    for k in range(last):
        s0 = s1 = 0.0
        for i in range(3):
            # places before and after and speeds of both ends: nocks, or points of the string
            if k == 0:
                a0, a1, va = old.nocks[0, i], new.nocks[0, i], old.nock_speed[0, i]
            else:
                a0, a1 = old.points[k - 1, i], new.points[k - 1, i]
                va = old.point_speed[k - 1, i]
            if k == last - 1:
                b0, b1, vb = old.nocks[1, i], new.nocks[1, i], old.nock_speed[1, i]
            else:
                b0, b1, vb = old.points[k, i], new.points[k, i], old.point_speed[k, i]
            s0 += (b0 - a0) ** 2
            s1 += (b1 - a1) ** 2
            x[i] = b1 - a1
            r[i] = b0 - a0 + b1 - a1
            # speeds change by 2 (x' - x)/h - 2 v, over h
            a[i] = (2.0 * (a1 - a0) / h - 2.0 * va) / h
            b[i] = (2.0 * (b1 - b0) / h - 2.0 * vb) / h
        s0, s1 = math.sqrt(s0), math.sqrt(s1)
        pull, slope = segment_pull(model.string_stiffness, model.string_lag, rest[k], s0, s1, h)
        if model.lies == LIES and (k == 0 or k == last - 1):
            # pulled round the limb: `limbfe.beam.shot.lying`
            pull, slope = 0.0, 0.0
        pulls[k] = pull
        total, share = s0 + s1, yarn[k] / 6.0
        for i in range(3):
            f = pull * r[i] / total
            force[k, 0, i] = share * (2.0 * a[i] + b[i]) - f
            force[k, 1, i] = share * (2.0 * b[i] + a[i]) + f
            if not slopes:
                continue
            for j in range(3):
                t = r[i] * x[j] / s1 * (slope - pull / total) / total
                if i == j:
                    t += pull / total
                tangent[k, 0, i, j], tangent[k, 1, i, j] = t, -t
            tangent[k, 0, i, i] += share * 4.0 / (h * h)
            tangent[k, 1, i, i] += share * 2.0 / (h * h)


@compiled_inside
def add_points(
    model: ShotModel, old: Motion, new: Motion, extra: float, work: Scratch, h: float, slopes: bool
) -> None:
    """Add the string's segments between its points, a mass on the nocking point and the air, and
    the derivatives if `slopes` are asked for."""
    rhs, band, point, drag = work.rhs, work.band, model.point, model.drag
    force, tangent, before, after = work.segment_force, work.segment_tangent, old.points, new.points
    u, diagonal = np.empty(3), model.band
    for k in range(len(drag)):
        at = point[k]
        mass = extra if k == model.nocking else 0.0
        speed = 0.0
        for i in range(3):
            u[i] = (after[k, i] - before[k, i]) / h
            speed += u[i] * u[i]
        speed = math.sqrt(speed)
        for i in range(3):
            change = (2.0 * u[i] - 2.0 * old.point_speed[k, i]) / h
            rhs[at + i, 0] += mass * change + drag[k] * speed * u[i]
            rhs[at + i, 0] += force[k, 1, i] + force[k + 1, 0, i]
            if not slopes:
                continue
            band[at + i, diagonal] += mass * 2.0 / (h * h) + drag[k] * speed / h
            for j in range(3):
                value = tangent[k, 0, i, j] + tangent[k + 1, 0, i, j]
                if speed > 0.0:
                    value += drag[k] * u[i] * u[j] / (speed * h)
                band[at + i, diagonal + j - i] += value
                if k + 1 < len(drag):
                    beside = point[k + 1] - at
                    band[at + i, diagonal + beside + j - i] += tangent[k + 1, 1, i, j]
                    band[at + beside + i, diagonal - beside + j - i] += tangent[k + 1, 1, i, j]


@compiled_inside
def point_moves(rotation: Array, turn: Array, arm: Array, moved: Array) -> None:
    """Write how a body's point at `arm` moves at the end of a step with its increment, (3, 6)."""
    for j in range(6):
        for i in range(3):
            moved[i, j] = 0.0
        for k in range(3):
            i, m = (k + 1) % 3, (k + 2) % 3
            # v + w x arm
            local = turn[k, j] + turn[3 + i, j] * arm[m] - turn[3 + m, j] * arm[i]
            for n in range(3):
                moved[n, j] += rotation[n, k] * local


@compiled_inside
def point_step(
    middle: Array, place: Array, half: Array, mean: Array, force: Array, stiffness: Array,
    moved: Array, reach: Array, residual: Array, tangent: Array, slopes: bool,
) -> None:  # fmt: skip
    """Carry what is taken from a body's point (3,), global axes, to the body.

    The force acts at the `mean` of the point's places, so that angular momentum is kept.

    Parameters
    ----------
    middle, place : ndarray, shapes (3, 3), (3,)
        The body half-way.
    half : ndarray, shape (6, 6)
        How the middle moves with the increment.
    stiffness : ndarray, shape (3, 3)
        Derivative of the force by the point's place at the end.
    moved : ndarray, shape (3, 6)
        From `point_moves`.
    reach : ndarray, shape (6, 3)
        Written: takes a force at the point to the body's axes.
    residual, tangent : ndarray, shapes (6,), (6, 6)
        Added, the tangent if `slopes` are asked for.
    """
    lever, f, w, d = np.empty(3), np.empty(3), np.empty(3), np.empty(3)
    for i in range(3):
        lever[i] = f[i] = 0.0
        for j in range(3):
            lever[i] += middle[j, i] * (mean[j] - place[j])
            f[i] += middle[j, i] * force[j]
            reach[i, j] = middle[j, i]
    for k in range(3):
        i, m = (k + 1) % 3, (k + 2) % 3
        residual[k] += f[k]
        residual[3 + k] += lever[i] * f[m] - lever[m] * f[i]
        for j in range(3):
            reach[3 + k, j] = lever[i] * middle[j, m] - lever[m] * middle[j, i]
    if not slopes:
        return
    change = np.empty(3)
    for j in range(6):
        for i in range(3):
            change[i] = 0.0
            for k in range(3):
                change[i] += stiffness[i, k] * moved[k, j]
        for k in range(3):
            i, m = (k + 1) % 3, (k + 2) % 3
            # in the middle's axes the force turns by f x w, the lever by lever x w and moves
            w[k] = f[i] * half[3 + m, j] - f[m] * half[3 + i, j]
            d[k] = lever[i] * half[3 + m, j] - lever[m] * half[3 + i, j] - half[k, j]
            for n in range(3):
                d[k] += 0.5 * middle[n, k] * moved[n, j]
        for k in range(3):
            i, m = (k + 1) % 3, (k + 2) % 3
            tangent[k, j] += w[k]
            tangent[3 + k, j] += d[i] * f[m] - d[m] * f[i] + lever[i] * w[m] - lever[m] * w[i]
        for i in range(6):
            for k in range(3):
                tangent[i, j] += reach[i, k] * change[k]
