"""The line on the belly that a string may lie on: its places and their derivatives.

Inside an element the axis is the helicoid ``H(s) = H_1 exp(s d)``, s from 0 to 1, with the twist
``d = (rho, theta)`` of `limbfe.beam.limbs.motion`; the line is ``p(s) = H(s) a(s)``, and moves on
by ``p' = R(s) v`` with ``v = rho + theta x a + a'``.  The arm a(s) is Hermite's cubic between the
arms at both nodes whose ends make v parallel to the line's slope there.  So the line has no kink
at a node, however the elements bend, and a string leaves it at a point that moves smoothly: kinks
of the size of an element's error would let the string lift off and touch again at every node.
The arm is a straight function of d, ``a = c(s) + A(s) d``.

All derivatives are by the increments (12,) of the element's nodes, as in `beam.limbs.element`, and
exact.  The second ones are those along ``exp(t delta)``, symmetric.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from limbfe.beam.limbs.motion import (
    move,
    tangent_derivatives,
    tangent_operators,
    twist_between,
)
from limbfe.beam.model import Bed, Ground, Path
from limbfe.compiled import compiled_inside
from limbfe.frames import Array

POINTS = 0.5 + 0.5 * np.polynomial.legendre.leggauss(4)[0]
WEIGHTS = 0.5 * np.polynomial.legendre.leggauss(4)[1]
"""Gauss-Legendre's, between 0 and 1: a length to 1e-12 where an element turns by 0.2."""


class Arm(NamedTuple):
    """The arm (3,) of the line at one share of an element, its derivative by the share (3,), and
    both by the element's twist, (3, 6).
    """

    arm: Array
    along: Array
    by_twist: Array
    along_by_twist: Array


@compiled_inside
def new_arm() -> Arm:
    """Return scratch for `write_arm`."""
    room = np.empty(42)
    return Arm(room[:3], room[3:6], room[6:24].reshape(3, 6), room[24:].reshape(3, 6))


@compiled_inside
def write_arm(bed: Bed, element: int, share: float, d: Array, out: Arm) -> None:
    """Write the line's arm at a share of an element with the twist `d`."""
    x = share
    row = np.empty(6)
    value = (x * (1.0 - x) ** 2, x * x * (x - 1.0))
    rate = ((1.0 - x) * (1.0 - 3.0 * x), x * (3.0 * x - 2.0))
    far, far_rate = x * x * (3.0 - 2.0 * x), 6.0 * x * (1.0 - x)
    for i in range(3):
        step = bed.arm[element + 1, i] - bed.arm[element, i]
        out.arm[i], out.along[i] = bed.arm[element, i] + far * step, far_rate * step
        for j in range(6):
            out.by_twist[i, j] = out.along_by_twist[i, j] = 0.0
    for end in range(2):
        a = bed.arm[element + end]
        # u = rho + theta x a moves on by the slope: a' = (0, slope_y u_x - u_y, slope_z u_x - u_z)
        for i in range(1, 3):
            slope = bed.slope[element + end, i - 1]
            row[:] = 0.0
            row[0], row[4], row[5] = slope, slope * a[2], -slope * a[1]
            row[i] -= 1.0
            if i == 1:
                row[3] += a[2]
                row[5] -= a[0]
            else:
                row[3] -= a[1]
                row[4] += a[0]
            for j in range(6):
                out.by_twist[i, j] += value[end] * row[j]
                out.along_by_twist[i, j] += rate[end] * row[j]
    for i in range(1, 3):
        for j in range(6):
            out.arm[i] += out.by_twist[i, j] * d[j]
            out.along[i] += out.along_by_twist[i, j] * d[j]


@compiled_inside
def write_lean(bed: Bed, element: int, d: Array, lean: Array) -> None:
    """Write how the arm sets out sideways (2, 2) from both ends of an element, so that the line
    has its slope there.
    """
    for end in range(2):
        a, slope = bed.arm[element + end], bed.slope[element + end]
        ahead = d[0] + d[4] * a[2] - d[5] * a[1]
        lean[end, 0] = slope[0] * ahead - (d[1] + d[5] * a[0] - d[3] * a[2])
        lean[end, 1] = slope[1] * ahead - (d[2] + d[3] * a[1] - d[4] * a[0])


@compiled_inside
def lean_arm(bed: Bed, element: int, share: float, lean: Array, arm: Array, along: Array) -> None:
    """Write the line's arm at a share of an element, and its derivative by the share, from what
    `write_lean` has found; `write_arm` writes the same with their derivatives.
    """
    x = share
    far, far_rate = x * x * (3.0 - 2.0 * x), 6.0 * x * (1.0 - x)
    first, last = x * (1.0 - x) ** 2, x * x * (x - 1.0)
    first_rate, last_rate = (1.0 - x) * (1.0 - 3.0 * x), x * (3.0 * x - 2.0)
    for i in range(3):
        step = bed.arm[element + 1, i] - bed.arm[element, i]
        arm[i], along[i] = bed.arm[element, i] + far * step, far_rate * step
        if i > 0:
            arm[i] += first * lean[0, i - 1] + last * lean[1, i - 1]
            along[i] += first_rate * lean[0, i - 1] + last_rate * lean[1, i - 1]


@compiled_inside
def write_speed(d: Array, arm: Array, along: Array, v: Array) -> None:
    """Write how the line moves on with the share, (3,), in the axes there."""
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        v[i] = d[i] + d[3 + j] * arm[k] - d[3 + k] * arm[j] + along[i]


@compiled_inside
def element_at(model: Ground, part: int, at: float) -> tuple[int, float]:
    """Return the element and the share of it for a place on a limb, in elements from the tip.

    A place that is none, as of an iteration that went astray, counts as the tip.
    """
    count = model.lower if part == 0 else len(model.length) - model.upper
    if not 0.0 <= at <= count:
        at = float(count) if at > count else 0.0
    k = min(int(at), count - 1)
    if part == 0:
        return k, at - k
    return len(model.length) - 1 - k, 1.0 - (at - k)


@compiled_inside
def place_on_bed(model: Ground, path: Path, part: int, at: float, out: Array) -> None:
    """Write a place on the line and how it moves on from the tip inwards, (2, 3).

    `at` counts elements from the tip.
    """
    element, share = element_at(model, part, at)
    # one array for all: making one takes as long as a dozen sums, and a string is laid by hundreds
    room = np.empty(37)
    d, step, v, position = room[:6], room[6:12], room[12:15], room[15:18]
    rotation, lean = room[18:27].reshape(3, 3), room[27:31].reshape(2, 2)
    arm, along = room[31:34], room[34:]
    twist_between(
        path.rotations[element], path.positions[element],
        path.rotations[element + 1], path.positions[element + 1], d,
    )  # fmt: skip
    write_lean(model.bed, element, d, lean)
    lean_arm(model.bed, element, share, lean, arm, along)
    write_speed(d, arm, along, v)
    rotation[:], position[:] = path.rotations[element], path.positions[element]
    for i in range(6):
        step[i] = share * d[i]
    move(rotation, position, step)
    inwards = 1.0 if part == 0 else -1.0
    for i in range(3):
        out[0, i], out[1, i] = position[i], 0.0
        for j in range(3):
            out[0, i] += rotation[i, j] * arm[j]
            out[1, i] += inwards * rotation[i, j] * v[j]


@compiled_inside
def sample_element(model: Ground, path: Path, part: int, deep: int, places: Array) -> None:
    """Write evenly spaced places (k, 3) on the line of an element, from end to end, tip first.

    Its twist is the same for all, and how the line moves on there is not asked.
    """
    element = deep if part == 0 else len(model.length) - 1 - deep
    room, last = np.empty(34), len(places) - 1
    d, step, arm, along = room[:6], room[6:12], room[12:15], room[15:18]
    rotation, position, lean = room[18:27].reshape(3, 3), room[27:30], room[30:].reshape(2, 2)
    twist_between(
        path.rotations[element], path.positions[element],
        path.rotations[element + 1], path.positions[element + 1], d,
    )  # fmt: skip
    write_lean(model.bed, element, d, lean)
    for k in range(last + 1):
        share = k / last if part == 0 else 1.0 - k / last
        lean_arm(model.bed, element, share, lean, arm, along)
        rotation[:], position[:] = path.rotations[element], path.positions[element]
        for i in range(6):
            step[i] = share * d[i]
        move(rotation, position, step)
        for i in range(3):
            places[k, i] = position[i]
            for j in range(3):
                places[k, i] += rotation[i, j] * arm[j]


@compiled_inside
def write_rate(d: Array, arm: Arm, rate: Array) -> None:
    """Write the derivative (3, 6) of the line's speed by the twist."""
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        for c in range(6):
            rate[i, c] = arm.along_by_twist[i, c]
            rate[i, c] += d[3 + j] * arm.by_twist[k, c] - d[3 + k] * arm.by_twist[j, c]
        rate[i, i] += 1.0
        rate[i, 3 + j] += arm.arm[k]
        rate[i, 3 + k] -= arm.arm[j]


@compiled_inside
def add_by_nodes(d: Array, first: Array, second: Array, gradient: Array, hessian: Array) -> None:
    """Add derivatives by an element's twist as those by its nodes' increments, the first 12."""
    p, q = np.empty((6, 6)), np.empty((6, 6))
    by_p, by_q = np.empty((6, 6)), np.empty((6, 6))
    tangent_operators(d, p, q)
    for i in range(6):
        for j in range(6):
            gradient[i] -= q[j, i] * first[j]
            gradient[6 + i] += p[j, i] * first[j]
    if len(hessian) == 0:
        return
    tangent_derivatives(d, first, by_p, by_q)
    for i in range(6):
        for j in range(6):
            for k in range(6):
                by_p[i, j] += p[k, i] * second[k, j]
                by_q[i, j] += q[k, i] * second[k, j]
    for i in range(6):
        for j in range(6):
            near, far, cross = 0.0, 0.0, 0.0
            for k in range(6):
                near += by_q[i, k] * q[k, j] + by_q[j, k] * q[k, i]
                far += by_p[i, k] * p[k, j] + by_p[j, k] * p[k, i]
                cross -= by_q[i, k] * p[k, j] + by_p[j, k] * q[k, i]
            hessian[i, j] += 0.5 * near
            hessian[6 + i, 6 + j] += 0.5 * far
            hessian[i, 6 + j] += 0.5 * cross
            hessian[6 + j, i] += 0.5 * cross
