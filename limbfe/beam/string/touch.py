"""A point of the line a string may lie on, and how it moves with the nodes of its element.

Notation, and what the derivatives are by, as in `limbfe.beam.string.bed`.
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
from limbfe.beam.model import Ground, Path
from limbfe.beam.string.bed import Arm, new_arm, write_arm
from limbfe.compiled import compiled_inside
from limbfe.frames import Array


class Touch(NamedTuple):
    """A point of the line that stays where it is in its element.

    What its second derivatives need: the share (1,) at which it lies, the element's twist, axes
    there, the arm, the derivatives of the twist and of the moving axes by the element's nodes
    (6, 12), and the tangent operators (2, 6, 6) at both ends and at the share.
    """

    share: Array
    twist: Array
    axes: Array
    arm: Arm
    by_nodes: Array
    moved: Array
    ends: Array
    here: Array


@compiled_inside
def touch_element(path: Path, element: int) -> Touch:
    """Return an element that is touched; `touch_at` writes what hangs on where."""
    d, share, ends = np.empty(6), np.zeros(1), np.empty((2, 6, 6))
    twist_between(
        path.rotations[element], path.positions[element],
        path.rotations[element + 1], path.positions[element + 1], d,
    )  # fmt: skip
    tangent_operators(d, ends[0], ends[1])
    by_nodes, moved = np.empty((6, 12)), np.empty((6, 12))
    for i in range(6):
        for j in range(6):
            by_nodes[i, j], by_nodes[i, 6 + j] = -ends[1, i, j], ends[0, i, j]
    axes, here = np.empty((3, 3)), np.empty((2, 6, 6))
    return Touch(share, d, axes, new_arm(), by_nodes, moved, ends, here)


@compiled_inside
def touch_at(model: Ground, path: Path, element: int, share: float, touch: Touch) -> Array:
    """Move to a share of the element; return where its axis is, (3,)."""
    step, ps, qs, moved = np.empty(6), touch.here[0], touch.here[1], touch.moved
    p, q = touch.ends[0], touch.ends[1]
    touch.share[0] = share
    place: Array = path.positions[element].copy()
    touch.axes[:] = path.rotations[element]
    write_arm(model.bed, element, share, touch.twist, touch.arm)
    for i in range(6):
        step[i] = share * touch.twist[i]
    tangent_operators(step, ps, qs)
    move(touch.axes, place, step)
    for i in range(6):
        for j in range(6):
            moved[i, j], moved[i, 6 + j] = qs[i, j] - share * q[i, j], share * p[i, j]
    _solve_upper(ps, moved)
    return place


@compiled_inside
def touch_point(
    model: Ground, path: Path, element: int, share: float
) -> tuple[Touch, Array, Array]:
    """Return the line's point at a share of an element, its place (3,) and the derivative (3, 12)
    of that by the element's nodes.
    """
    touch = touch_element(path, element)
    place = touch_at(model, path, element, share, touch)
    arm, moved, axes, a = touch.arm, touch.moved, touch.axes, touch.arm.arm
    jacobian, body = np.empty((3, 12)), np.empty(3)
    for c in range(12):
        for i in range(3):
            j, k = (i + 1) % 3, (i + 2) % 3
            body[i] = moved[i, c] + moved[3 + j, c] * a[k] - moved[3 + k, c] * a[j]
            for m in range(6):
                body[i] += arm.by_twist[i, m] * touch.by_nodes[m, c]
        for i in range(3):
            jacobian[i, c] = 0.0
            for k in range(3):
                jacobian[i, c] += axes[i, k] * body[k]
    for i in range(3):
        for k in range(3):
            place[i] += axes[i, k] * a[k]
    return touch, place, jacobian


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
    f, m, s = np.empty(3), np.empty(6), np.zeros(6)
    a, arm = touch.arm.arm, touch.arm
    for i in range(3):
        f[i] = 0.0
        for k in range(3):
            f[i] += touch.axes[k, i] * force[k]
    cross, own = np.zeros((3, 6)), np.zeros((6, 6))
    dot = f[0] * a[0] + f[1] * a[1] + f[2] * a[2]
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        m[i], m[3 + i] = f[i], a[j] * f[k] - a[k] * f[j]
        for c in range(6):
            s[c] += arm.by_twist[i, c] * f[i]
            # f . (w x u) = w . (u x f)
            cross[i, c] = 2.0 * (arm.by_twist[j, c] * f[k] - arm.by_twist[k, c] * f[j])
        # f . (w x (v + w x a)) = w . (v x f) + (f.w)(w.a) - (f.a)(w.w)
        own[3 + i, j] += f[k]
        own[3 + i, k] -= f[j]
        own[3 + i, 3 + i] -= dot
        for c in range(3):
            own[3 + i, 3 + c] += f[i] * a[c]
    add_turning(touch, m, s, cross, own, hessian)


@compiled_inside
def add_turning(
    touch: Touch, m: Array, by_twist: Array, cross: Array, own: Array, hessian: Array
) -> None:
    """Add ``m.eta' + by_twist.d'' + w.(cross d') + eta.(own eta)`` along ``exp(t delta)``.

    Parameters
    ----------
    touch : Touch
        Its moving axes' increment is eta (6,), w the turn of that.
    m, by_twist : ndarray, shape (6,)
    cross, own : ndarray, shapes (3, 6), (6, 6)
    hessian : ndarray, shape (12, 12)
        Added to: the symmetric matrix of that form of the nodes' increments.
    """
    left, turn = np.zeros((12, 6)), np.empty((6, 12))
    add_twisted(touch, m, by_twist, cross, left)
    add_by_twist(touch, left, hessian)
    for c in range(12):
        for i in range(6):
            turn[i, c] = 0.0
            for k in range(6):
                turn[i, c] += own[i, k] * touch.moved[k, c]
    for b in range(12):
        for c in range(12):
            value = 0.0
            for i in range(6):
                value += touch.moved[i, b] * turn[i, c]
            hessian[b, c] += 0.5 * value
            hessian[c, b] += 0.5 * value


@compiled_inside
def add_twisted(touch: Touch, m: Array, by_twist: Array, cross: Array, left: Array) -> None:
    """Add the matrix (12, 6) of ``m.eta' + by_twist.d'' + w.(cross d')``, a form of the nodes'
    increments and of the change of their element's twist.

    Parameters as of `add_turning`; those of many points of one element may be added up.
    """
    s, d, share = np.empty(6), touch.twist, touch.share[0]
    # mu = T(share d)^T m, T the inverse of P
    scaled = np.empty(6)
    for i in range(6):
        scaled[i] = share * d[i]
    mu = _solve_transposed(touch.here[0], m)
    for j in range(6):
        s[j] = share * mu[j] + by_twist[j]
    ends_p, ends_q = np.empty((6, 6)), np.empty((6, 6))
    here_p, here_q = np.empty((6, 6)), np.empty((6, 6))
    tangent_derivatives(d, s, ends_p, ends_q)
    tangent_derivatives(scaled, mu, here_p, here_q)
    for i in range(6):
        for j in range(6):
            left[i, j] += share * here_q[i, j] - ends_q[i, j]
            left[6 + i, j] += ends_p[i, j]
            # times the moving axes' increment
            here_p[i, j] *= -share
            if i >= 3:
                here_p[i, j] += cross[i - 3, j]
    for c in range(12):
        for i in range(6):
            for k in range(6):
                left[c, i] += touch.moved[k, c] * here_p[k, i]


@compiled_inside
def add_by_twist(touch: Touch, left: Array, hessian: Array) -> None:
    """Add a matrix (12, 6) from `add_twisted` as one of the nodes' increments alone, symmetric."""
    for b in range(12):
        for c in range(12):
            value = 0.0
            for i in range(6):
                value += left[b, i] * touch.by_nodes[i, c]
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
