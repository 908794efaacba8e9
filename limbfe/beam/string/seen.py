"""The belly as a string sees it that slides over it: a cylinder, and its length seen end on.

A taut string without friction is straight on a belly laid flat.  Where it touches, a limb bears
next to nothing and keeps its shape, so its belly is taken for a cylinder: the line of
`limbfe.beam.string.bed`, and through every point of it a ruling along b, the y axis of the tip's
section.  With P the way from the nock to the nocking point as it is seen along b and W its way
along b, the string is ``hypot(P, W)`` long; the shortest of its ways is the one of least P,
whatever W is.  Turning limb and nocking point together changes none of these, so all that the
string does to a limb is in balance with its pull, in force and moment, from where it leaves the
limb.  What it turns the limb by, lying beside the line, the tip takes, not the place where it lies.

An element's line moves on by v, and sees b as ``c = R^T b``; it is seen as long as
``f = sqrt(v.v - (v.c)^2)``.  The rulings turn with the tip's increment: all derivatives here are by
15 unknowns, the increments (12,) of the element's nodes and the turn (3,) of the tip.
"""

from __future__ import annotations

import math

import numpy as np

from limbfe.beam.model import Ground, Path
from limbfe.beam.string.bed import (
    POINTS,
    WEIGHTS,
    add_by_nodes,
    place_on_bed,
    write_rate,
    write_speed,
)
from limbfe.beam.string.touch import Touch, add_by_twist, add_twisted, touch_at, touch_element
from limbfe.compiled import compiled_inside
from limbfe.frames import Array


@compiled_inside
def tip_axes(path: Path, part: int) -> Array:
    """Return the axes (3, 3) of a limb's tip; the second column is the rulings' direction."""
    axes: Array = path.rotations[0 if part == 0 else len(path.rotations) - 1]
    return axes


@compiled_inside
def ruling_of(path: Path, part: int) -> Array:
    """Return the rulings' direction (3,) of one limb."""
    out: Array = tip_axes(path, part)[:, 1].copy()
    return out


@compiled_inside
def seen_path(path: Path, part: int) -> Path:
    """Return the shape turned so that the rulings of one limb run along Y.

    By the smallest turn; where they run along Y already it is the same shape.
    """
    tip, n = tip_axes(path, part), len(path.positions)
    b0, b1, b2 = tip[0, 1], tip[1, 1], tip[2, 1]
    if b0 == 0.0 and b2 == 0.0 and b1 > 0.0:
        return path
    turn = np.zeros((3, 3))
    if b1 > -1.0 + 1e-9:
        share = 1.0 / (1.0 + b1)
        turn[0, 0], turn[2, 2], turn[1, 1] = 1.0 - share * b0 * b0, 1.0 - share * b2 * b2, b1
        turn[0, 2] = turn[2, 0] = -share * b0 * b2
        turn[0, 1], turn[1, 0], turn[2, 1], turn[1, 2] = -b0, b0, -b2, b2
    else:
        # turned over: as good as any
        turn[0, 0], turn[1, 1], turn[2, 2] = 1.0, -1.0, -1.0
    rotations, positions = np.empty((n, 3, 3)), np.empty((n, 3))
    border = path.border.copy()
    for node in range(n):
        for i in range(3):
            positions[node, i] = 0.0
            for k in range(3):
                positions[node, i] += turn[i, k] * path.positions[node, k]
                rotations[node, i, k] = 0.0
                for m in range(3):
                    rotations[node, i, k] += turn[i, m] * path.rotations[node, m, k]
    # the nocking point is the border's head
    for i in range(3):
        border[i] = 0.0
        for k in range(3):
            border[i] += turn[i, k] * path.border[k]
    return Path(rotations, positions, border, path.string, path.slack)


@compiled_inside
def seen_between(a: Array, b: Array, ruling: Array) -> float:
    """Return how far apart two points are, seen along the rulings."""
    square, along = 0.0, 0.0
    for i in range(3):
        square += (b[i] - a[i]) ** 2
        along += (b[i] - a[i]) * ruling[i]
    return math.sqrt(max(square - along * along, 0.0))


@compiled_inside
def seen_length(
    model: Ground, path: Path, part: int, ends: tuple[float, float], ruling: Array
) -> float:
    """Return the length of the line between two places (elements from the tip), seen so."""
    low, high = ends
    size, here = 0.0, np.empty((2, 3))
    origin = np.zeros(3)
    while low < high:
        stop = min(high, math.floor(low + 1.0))
        for g in range(len(POINTS)):
            place_on_bed(model, path, part, low + POINTS[g] * (stop - low), here)
            size += WEIGHTS[g] * (stop - low) * seen_between(origin, here[1], ruling)
        low = stop
    return size


@compiled_inside
def add_seen_length(
    model: Ground,
    path: Path,
    element: int,
    ends: tuple[float, float],
    tip: Array,
    gradient: Array,
    hessian: Array,
) -> float:
    """Return the length of the line between two shares of an element, seen along the rulings.

    Its first and second derivatives are added to `gradient` (15,) and `hessian` (15, 15), unless
    that is empty.  `tip` are the tip's axes.

    Notes
    -----
    With d the element's twist, ``v' = V d'``, and w the turn of the axes there, z that of the tip:
    ``c' = (z - w) x c``.  So ``f f'' = v'.v' + v.v'' - q'^2 - q q'' - f'^2`` with ``q = v.c``, and
    ``v.c'' = n.w' + n.(w x z) + (v.o)(o.c) - (v.c)(o.o)``, ``n = v x c`` and ``o = z - w``.
    """
    seconds, touch = len(hessian) > 0, touch_element(path, element)
    v, c, unit, n = np.empty(3), np.empty(3), np.empty(3), np.empty(3)
    seen, rate, turned = np.empty((3, 3)), np.empty((3, 6)), np.empty((3, 9))
    df, dq, d, arm = np.empty(9), np.empty(9), touch.twist, touch.arm
    size, first, second = 0.0, np.zeros(6), np.zeros((6, 6))
    # by the twist (6), and by both nodes' turns and the tip's (9)
    slope, mixed, spun, left = np.zeros(9), np.zeros((6, 9)), np.zeros((9, 9)), np.zeros((12, 6))
    own, both, moment, none = np.empty((3, 3)), np.empty(3), np.zeros(6), np.zeros((3, 6))
    for g in range(len(POINTS)):
        share = ends[0] + POINTS[g] * (ends[1] - ends[0])
        weight = WEIGHTS[g] * (ends[1] - ends[0])
        touch_at(model, path, element, share, touch)
        write_speed(d, arm.arm, arm.along, v)
        write_rate(d, arm, rate)
        q, square = 0.0, 0.0
        for i in range(3):
            for k in range(3):
                seen[i, k] = 0.0
                for m in range(3):
                    seen[i, k] += touch.axes[m, i] * tip[m, k]
            c[i] = seen[i, 1]
            q += v[i] * c[i]
            square += v[i] * v[i]
        f = math.sqrt(square - q * q)
        size += weight * f
        # o = z - w; moving its nodes along does not turn an element's axes
        for i in range(3):
            j, k = (i + 1) % 3, (i + 2) % 3
            unit[i] = (v[i] - q * c[i]) / f
            n[i] = v[j] * c[k] - v[k] * c[j]
            for b in range(3):
                turned[i, b] = -touch.moved[3 + i, 3 + b]
                turned[i, 3 + b] = -touch.moved[3 + i, 9 + b]
                turned[i, 6 + b] = seen[i, b]
        # by d' (6) and o (3): q' = c.V d' - n.o, f' = (v.V d' - q q')/f
        for b in range(6):
            dq[b] = df[b] = 0.0
            for i in range(3):
                dq[b] += c[i] * rate[i, b]
                df[b] += unit[i] * rate[i, b]
            first[b] += weight * df[b]
        for i in range(3):
            dq[6 + i], df[6 + i] = -n[i], q / f * n[i]
            for b in range(9):
                slope[b] += weight * df[6 + i] * turned[i, b]
        if not seconds:
            continue
        scale = weight / f
        for b in range(6):
            for e in range(6):
                value = -dq[b] * dq[e] - df[b] * df[e]
                for i in range(3):
                    value += rate[i, b] * rate[i, e]
                second[b, e] += scale * value
            for i in range(3):
                j, k = (i + 1) % 3, (i + 2) % 3
                # (o x c).v' = o.(c x v')
                value = -dq[b] * dq[6 + i] - df[b] * df[6 + i]
                both[i] = scale * (value - q * (c[j] * rate[k, b] - c[k] * rate[j, b]))
            for e in range(9):
                for i in range(3):
                    mixed[b, e] += both[i] * turned[i, e]
        # the arm moves with the twist that turns it: unit . (theta' x A d')
        for e in range(6):
            for i in range(3):
                j, k = (i + 1) % 3, (i + 2) % 3
                value = weight * (arm.by_twist[j, e] * unit[k] - arm.by_twist[k, e] * unit[j])
                second[3 + i, e] += value
                second[e, 3 + i] += value
        for i in range(3):
            for k in range(3):
                value = -dq[6 + i] * dq[6 + k] - df[6 + i] * df[6 + k]
                own[i, k] = value - 0.5 * q * (v[i] * c[k] + v[k] * c[i])
            own[i, i] += q * q
        for b in range(9):
            for i in range(3):
                both[i] = 0.0
                for k in range(3):
                    both[i] += scale * own[i, k] * turned[k, b]
            for e in range(9):
                for i in range(3):
                    spun[e, b] += turned[i, e] * both[i]
        if q != 0.0:
            for i in range(3):
                n[i] *= -q * scale
                moment[3 + i] = n[i]
            # n.(w' + w x z), and w = -o but for the tip's share
            add_twisted(touch, moment, none[0], none, left)
            for b in range(6):
                for k in range(3):
                    # n.(w x z) = w.(z x n)
                    value = 0.0
                    for i in range(3):
                        j, h = (i + 1) % 3, (i + 2) % 3
                        value -= turned[i, b] * (seen[j, k] * n[h] - seen[h, k] * n[j])
                    spun[b, 6 + k] += 0.5 * value
                    spun[6 + k, b] += 0.5 * value
    add_by_nodes(d, first, second, gradient, hessian)
    for b in range(9):
        gradient[_spin(b)] += slope[b]
    if seconds:
        add_by_twist(touch, left, hessian)
        _add_spun(touch, mixed, spun, hessian)
    return size


@compiled_inside
def _spin(b: int) -> int:
    """Return which of the 15 unknowns one of the turns (9) of two nodes and the tip is."""
    return b + 3 if b < 3 else b + 6


@compiled_inside
def _add_spun(touch: Touch, mixed: Array, spun: Array, hessian: Array) -> None:
    """Add second derivatives by the twist and the turns (6, 9), and by the turns (9, 9)."""
    for e in range(9):
        to = _spin(e)
        for b in range(12):
            value = 0.0
            for i in range(6):
                value += touch.by_nodes[i, b] * mixed[i, e]
            hessian[b, to] += value
            hessian[to, b] += value
        for b in range(9):
            hessian[_spin(b), to] += spun[b, e]


@compiled_inside
def add_aside(tip: Array, reach: Array, nock: Array, gradient: Array, hessian: Array) -> float:
    """Return how far to the side of its nock, along the rulings, a point lies.

    Its derivatives by the tip's increment and by the point are added to `gradient` (9,) and
    `hessian` (9, 9), unless that is empty.

    Parameters
    ----------
    tip, nock : ndarray, shapes (3, 3), (3,)
        The tip's axes, and the nock's arm in them.
    reach : ndarray, shape (3,), m
        From the tip's node to the point.

    Notes
    -----
    In the tip's axes, z, ``z' = -w x z - v + R^T p'`` and ``z'' = w x (w x z + v - 2 R^T p')``.
    """
    z = np.empty(3)
    for i in range(3):
        z[i] = 0.0
        for k in range(3):
            z[i] += tip[k, i] * reach[k]
        gradient[6 + i] += tip[i, 1]
    gradient[1] -= 1.0
    gradient[3] += z[2]
    gradient[5] -= z[0]
    if len(hessian) > 0:
        # (w x u)_y = w_z u_x - w_x u_z;  w x (w x z) = w (w.z) - z (w.w)
        for turn, along, half in ((5, 0, 0.5), (3, 2, -0.5)):
            hessian[turn, turn] -= z[1]
            hessian[8 - turn, 4] += 0.5 * z[along]
            hessian[4, 8 - turn] += 0.5 * z[along]
            hessian[turn, along] += half
            hessian[along, turn] += half
            for k in range(3):
                hessian[turn, 6 + k] -= 2.0 * half * tip[k, along]
                hessian[6 + k, turn] -= 2.0 * half * tip[k, along]
    return float(z[1] - nock[1])
