"""The line on the belly that a string may lie on: its places, its length and their derivatives.

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

import math
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

_POINTS = 0.5 + 0.5 * np.polynomial.legendre.leggauss(4)[0]
_WEIGHTS = 0.5 * np.polynomial.legendre.leggauss(4)[1]
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
def write_speed(d: Array, arm: Arm, v: Array) -> None:
    """Write how the line moves on with the share, (3,), in the axes there."""
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        v[i] = d[i] + d[3 + j] * arm.arm[k] - d[3 + k] * arm.arm[j] + arm.along[i]


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
    room, arm = np.empty(27), new_arm()
    d, step, v, position = room[:6], room[6:12], room[12:15], room[15:18]
    rotation = room[18:].reshape(3, 3)
    twist_between(
        path.rotations[element], path.positions[element],
        path.rotations[element + 1], path.positions[element + 1], d,
    )  # fmt: skip
    write_arm(model.bed, element, share, d, arm)
    write_speed(d, arm, v)
    rotation[:], position[:] = path.rotations[element], path.positions[element]
    for i in range(6):
        step[i] = share * d[i]
    move(rotation, position, step)
    inwards = 1.0 if part == 0 else -1.0
    for i in range(3):
        out[0, i], out[1, i] = position[i], 0.0
        for j in range(3):
            out[0, i] += rotation[i, j] * arm.arm[j]
            out[1, i] += inwards * rotation[i, j] * v[j]


@compiled_inside
def add_length(
    model: Ground,
    path: Path,
    element: int,
    ends: tuple[float, float],
    gradient: Array,
    hessian: Array,
) -> float:
    """Return the length of the line between two shares of an element.

    Its first and second derivatives are added to `gradient` (12,) and `hessian` (12, 12), unless
    that is empty.
    """
    d, v, arm = np.empty(6), np.empty(3), new_arm()
    twist_between(
        path.rotations[element], path.positions[element],
        path.rotations[element + 1], path.positions[element + 1], d,
    )  # fmt: skip
    size, first, second = 0.0, np.zeros(6), np.zeros((6, 6))
    rate, unit = np.empty((3, 6)), np.empty(3)
    for g in range(4):
        share = ends[0] + _POINTS[g] * (ends[1] - ends[0])
        weight = _WEIGHTS[g] * (ends[1] - ends[0])
        write_arm(model.bed, element, share, d, arm)
        write_speed(d, arm, v)
        speed = math.sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2])
        size += weight * speed
        for i in range(3):
            unit[i] = v[i] / speed
            j, k = (i + 1) % 3, (i + 2) % 3
            for c in range(6):
                rate[i, c] = arm.along_by_twist[i, c]
                rate[i, c] += d[3 + j] * arm.by_twist[k, c] - d[3 + k] * arm.by_twist[j, c]
            rate[i, i] += 1.0
            rate[i, 3 + j] += arm.arm[k]
            rate[i, 3 + k] -= arm.arm[j]
        along = np.zeros(6)
        for c in range(6):
            for i in range(3):
                along[c] += unit[i] * rate[i, c]
            first[c] += weight * along[c]
        if len(hessian) == 0:
            continue
        for b in range(6):
            for c in range(6):
                value = -along[b] * along[c]
                for i in range(3):
                    value += rate[i, b] * rate[i, c]
                second[b, c] += weight * value / speed
        # the arm moves with the twist that turns it: unit . (theta' x A d')
        for c in range(6):
            for i in range(3):
                j, k = (i + 1) % 3, (i + 2) % 3
                turned = arm.by_twist[j, c] * unit[k] - arm.by_twist[k, c] * unit[j]
                second[3 + i, c] += weight * turned
                second[c, 3 + i] += weight * turned
    _by_nodes(d, first, second, gradient, hessian)
    return size


@compiled_inside
def _by_nodes(d: Array, first: Array, second: Array, gradient: Array, hessian: Array) -> None:
    """Add derivatives by an element's twist as those by its nodes' increments."""
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


class Touch(NamedTuple):
    """A point of the line that stays where it is in its element.

    `place` (3,), its derivative (3, 12) by the element's nodes, and what its second derivatives
    need: the twist, axes there, the arm, the line's derivative by the twist (6, 12) and the moving
    axes' (6, 12), and the tangent operators at both ends and at the share.
    """

    place: Array
    jacobian: Array
    share: float
    twist: Array
    axes: Array
    arm: Arm
    by_nodes: Array
    moved: Array


@compiled_inside
def touch_point(model: Ground, path: Path, element: int, share: float) -> Touch:
    """Return the line's point at a share of an element."""
    d, step, arm = np.empty(6), np.empty(6), new_arm()
    twist_between(
        path.rotations[element], path.positions[element],
        path.rotations[element + 1], path.positions[element + 1], d,
    )  # fmt: skip
    write_arm(model.bed, element, share, d, arm)
    axes, place = path.rotations[element].copy(), path.positions[element].copy()
    p, q, ps, qs = np.empty((6, 6)), np.empty((6, 6)), np.empty((6, 6)), np.empty((6, 6))
    tangent_operators(d, p, q)
    for i in range(6):
        step[i] = share * d[i]
    tangent_operators(step, ps, qs)
    move(axes, place, step)
    by_nodes, moved = np.empty((6, 12)), np.empty((6, 12))
    for i in range(6):
        for j in range(6):
            by_nodes[i, j], by_nodes[i, 6 + j] = -q[i, j], p[i, j]
            moved[i, j], moved[i, 6 + j] = qs[i, j] - share * q[i, j], share * p[i, j]
    _solve_upper(ps, moved)
    jacobian, body, a = np.empty((3, 12)), np.empty((3, 12)), arm.arm
    for c in range(12):
        for i in range(3):
            j, k = (i + 1) % 3, (i + 2) % 3
            value = moved[i, c] + moved[3 + j, c] * a[k] - moved[3 + k, c] * a[j]
            for m in range(6):
                value += arm.by_twist[i, m] * by_nodes[m, c]
            body[i, c] = value
        for i in range(3):
            jacobian[i, c] = 0.0
            for k in range(3):
                jacobian[i, c] += axes[i, k] * body[k, c]
    for i in range(3):
        for k in range(3):
            place[i] += axes[i, k] * a[k]
    return Touch(place, jacobian, share, d, axes, arm, by_nodes, moved)


@compiled_inside
def _solve_upper(matrix: Array, right: Array) -> None:
    """Solve ``[[E, X], [0, E]] y = right`` (6, c) in place, by Cramer's rule for E."""
    inverse, e = np.empty((3, 3)), matrix
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        for m in range(3):
            n, o = (m + 1) % 3, (m + 2) % 3
            inverse[m, i] = e[j, n] * e[k, o] - e[j, o] * e[k, n]
    det = e[0, 0] * inverse[0, 0] + e[0, 1] * inverse[1, 0] + e[0, 2] * inverse[2, 0]
    low, high = np.empty(3), np.empty(3)
    for c in range(right.shape[1]):
        for i in range(3):
            low[i] = 0.0
            for k in range(3):
                low[i] += inverse[i, k] * right[3 + k, c] / det
        for i in range(3):
            high[i] = right[i, c]
            for k in range(3):
                high[i] -= matrix[i, 3 + k] * low[k]
        for i in range(3):
            right[i, c], right[3 + i, c] = 0.0, low[i]
            for k in range(3):
                right[i, c] += inverse[i, k] * high[k] / det


@compiled_inside
def add_curving(touch: Touch, force: Array, hessian: Array) -> None:
    """Add the second derivatives (12, 12) of a point's place along a force (3,), axes of the bow.

    With ``eta`` the moving axes' increment, w its turn, u = A d' and m the force's wrench about
    them: ``f.(w x (eta_v + w x a)) + 2 f.(w x u) + m.eta' + (A^T f).d''``.
    """
    f, m, s, d = np.empty(3), np.empty(6), np.empty(6), touch.twist
    a, arm, share = touch.arm.arm, touch.arm, touch.share
    for i in range(3):
        f[i] = 0.0
        for k in range(3):
            f[i] += touch.axes[k, i] * force[k]
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        m[i], m[3 + i] = f[i], a[j] * f[k] - a[k] * f[j]
    # mu = T(share d)^T m, T the inverse of P
    ps, qs, scaled = np.empty((6, 6)), np.empty((6, 6)), np.empty(6)
    for i in range(6):
        scaled[i] = share * d[i]
    tangent_operators(scaled, ps, qs)
    mu = _solve_transposed(ps, m)
    for j in range(6):
        s[j] = share * mu[j]
        for i in range(3):
            s[j] += arm.by_twist[i, j] * f[i]
    ends_p, ends_q = np.empty((6, 6)), np.empty((6, 6))
    here_p, here_q = np.empty((6, 6)), np.empty((6, 6))
    tangent_derivatives(d, s, ends_p, ends_q)
    tangent_derivatives(scaled, mu, here_p, here_q)
    # rows (18): both nodes' increments, then the moving axes'; each times d' (6)
    rows = np.empty((18, 6))
    for i in range(6):
        for j in range(6):
            rows[i, j] = share * here_q[i, j] - ends_q[i, j]
            rows[6 + i, j] = ends_p[i, j]
            rows[12 + i, j] = -share * here_p[i, j]
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        # f . (w x u) = w . (u x f)
        for c in range(6):
            rows[15 + i, c] += 2.0 * (arm.by_twist[j, c] * f[k] - arm.by_twist[k, c] * f[j])
    # f . (w x (v + w x a)) = w . (v x f) + (f.w)(w.a) - (f.a)(w.w)
    own = np.zeros((6, 6))
    dot = f[0] * a[0] + f[1] * a[1] + f[2] * a[2]
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        own[3 + i, j] += f[k]
        own[3 + i, k] -= f[j]
        own[3 + i, 3 + i] -= dot
        for c in range(3):
            own[3 + i, 3 + c] += f[i] * a[c]
    left = np.empty((12, 6))
    turn = np.empty((6, 12))
    for c in range(12):
        for i in range(6):
            turn[i, c] = 0.0
            for k in range(6):
                turn[i, c] += own[i, k] * touch.moved[k, c]
            left[c, i] = rows[c, i]
            for k in range(6):
                left[c, i] += touch.moved[k, c] * rows[12 + k, i]
    for b in range(12):
        for c in range(12):
            value = 0.0
            for i in range(6):
                value += left[b, i] * touch.by_nodes[i, c] + touch.moved[i, b] * turn[i, c]
            hessian[b, c] += 0.5 * value
            hessian[c, b] += 0.5 * value


@compiled_inside
def _solve_transposed(matrix: Array, right: Array) -> Array:
    """Return the solution (6,) of ``[[E, X], [0, E]]^T y = right``."""
    turned, column = np.zeros((6, 6)), np.empty((6, 1))
    # the transpose has X^T below; swapping both halves brings it above again
    for i in range(3):
        for j in range(3):
            turned[i, j] = turned[3 + i, 3 + j] = matrix[j, i]
            turned[i, 3 + j] = matrix[j, 3 + i]
        column[i, 0], column[3 + i, 0] = right[3 + i], right[i]
    _solve_upper(turned, column)
    out = np.empty(6)
    for i in range(3):
        out[i], out[3 + i] = column[3 + i, 0], column[i, 0]
    return out
