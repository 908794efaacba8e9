"""The string's share of the equations, on what is left when both limbs are eliminated.

The unknowns left are the increments of the lower (0-5) and upper (6-11) tip, the nocking point
p (12-14), the tensions of the lower and the upper part (15, 16) and the pull F (17).  Tensions
are unknowns of their own, so a string of any stiffness, an inextensible one too, is equally
easy on Newton's method.

Potential, with a the nocks and l the unstretched lengths:
``U + sum T (|p - a| - l) - T^2 l / (2 EA) - F (g(p) - g*)``.

The last three equations depend on what is prescribed.  Drawn: both lengths, and the draw length,
the pull or the tips' movement.  Braced, lengths unknown: the place of the nocking point on the
string, the brace height or the whole length, and no pull.

While bracing, the nocks are pulled with ``T ((1 - c) X + c t)``, t the string's direction: the
closing parameter c leads from two pulls towards the archer (0) to the string (1).
"""

from __future__ import annotations

import math

import numpy as np

from limbfe.beam.hold import pull_direction
from limbfe.beam.model import DRAW, FORCE, HEIGHT, LENGTH, Model, Path
from limbfe.fem.compiled import compiled
from limbfe.frames import Array


@compiled
def nock(path: Path, node: int, arm: Array, tip: int, point: Array, jacobian: Array) -> None:
    """Write nock `tip`'s place (3,) and its derivative by its node's body increment (3, 6)."""
    o0, o1, o2 = arm[tip, 0], arm[tip, 1], arm[tip, 2]
    for i in range(3):
        r0 = path.rotations[node, i, 0]
        r1 = path.rotations[node, i, 1]
        r2 = path.rotations[node, i, 2]
        point[i] = path.positions[node, i] + r0 * o0 + r1 * o1 + r2 * o2
        jacobian[i, 0], jacobian[i, 1], jacobian[i, 2] = r0, r1, r2
        jacobian[i, 3] = r2 * o1 - r1 * o2
        jacobian[i, 4] = r0 * o2 - r2 * o0
        jacobian[i, 5] = r1 * o0 - r0 * o1


@compiled
def add_nock_force(jacobian: Array, arm: Array, force: Array, tip: int, a: Array, r: Array) -> None:
    """Subtract a force on the nock from residual `r`, its own second-order term from `a`."""
    body = np.empty(3)
    at, dot = 6 * tip, 0.0
    for i in range(6):
        value = 0.0
        for k in range(3):
            value += jacobian[k, i] * force[k]
        r[at + i] -= value
        if i < 3:
            body[i] = value
            dot += value * arm[tip, i]
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        half = 0.5 * body[k]
        # -[force]/2 couples translation (rows) with rotation (columns)
        a[at + i, at + 3 + j] += half
        a[at + j, at + 3 + i] -= half
        a[at + 3 + j, at + i] += half
        a[at + 3 + i, at + j] -= half
    for i in range(3):
        a[at + 3 + i, at + 3 + i] += dot
        for j in range(3):
            a[at + 3 + i, at + 3 + j] -= 0.5 * (body[i] * arm[tip, j] + arm[tip, i] * body[j])


@compiled
def add_segment(jacobian: Array, t: Array, factor: float, c: float, tip: int, a: Array) -> None:
    """Add the stiffness ``factor (I - t t^T)`` of a tensioned segment from nock to p."""
    at = 6 * tip
    for i in range(3):
        for j in range(3):
            value = -factor * t[i] * t[j]
            if i == j:
                value += factor
            a[12 + i, 12 + j] += value
            for k in range(6):
                a[at + k, 12 + j] -= c * jacobian[i, k] * value
                a[12 + j, at + k] -= jacobian[i, k] * value
                for m in range(6):
                    a[at + k, at + m] += c * jacobian[i, k] * value * jacobian[j, m]


@compiled
def string_equations(
    model: Model,
    path: Path,
    control: int,
    target: float,
    closing: float,
    a: Array,
    r: Array,
    rows: Array,
) -> None:
    """Add the string to the reduced system.

    Parameters
    ----------
    control, target, closing
        What is prescribed, its value, and the closing parameter c.
    a : ndarray, shape (18, 18)
        Hessian of the potential; the limbs' tip blocks are there already.  Its rows 15 to 17
        prescribe both lengths and g; not symmetric while ``c < 1``.
    r : ndarray, shape (18,)
        Residual of the equations really solved.
    rows : ndarray, shape (3, 18)
        Written: what replaces rows 15 to 17 of `a` in the equations really solved.
    """
    point, t, f = np.empty((2, 3)), np.empty((2, 3)), np.empty(3)
    jacobian, size = np.empty((2, 3, 6)), np.empty(2)
    force = path.border[5]
    for tip in range(2):
        node = 0 if tip == 0 else len(path.positions) - 1
        nock(path, node, model.nocks, tip, point[tip], jacobian[tip])
        tension, square = path.border[3 + tip], 0.0
        for k in range(3):
            t[tip, k] = path.border[k] - point[tip, k]
            square += t[tip, k] ** 2
        size[tip] = math.sqrt(square)
        for k in range(3):
            t[tip, k] /= size[tip]
            f[k] = tension * closing * t[tip, k]
            r[12 + k] += tension * t[tip, k]
            a[12 + k, 15 + tip] = a[15 + tip, 12 + k] = t[tip, k]
        f[0] += tension * (1.0 - closing)
        add_nock_force(jacobian[tip], model.nocks, f, tip, a, r)
        add_segment(jacobian[tip], t[tip], tension / size[tip], closing, tip, a)
        for i in range(6):
            along = 0.0
            for k in range(3):
                along -= jacobian[tip, k, i] * t[tip, k]
            a[15 + tip, 6 * tip + i] = along
            a[6 * tip + i, 15 + tip] = closing * along - (1.0 - closing) * jacobian[tip, 0, i]
        a[15 + tip, 15 + tip] = -path.string[tip] / model.string_stiffness
        r[15 + tip] = size[tip] - path.string[tip] * (1.0 + tension / model.string_stiffness)
    direction, hessian = np.empty(3), np.empty((3, 3))
    # a braced bow carries no pull, and its nocking point may pass through the hand on the way
    hold = 0 if control in (HEIGHT, LENGTH) else model.hold
    pull_direction(hold, model.point, model.half_length, path.border, direction, hessian)
    for i in range(3):
        r[12 + i] -= force * direction[i]
        a[12 + i, 17] = a[17, 12 + i] = -direction[i]
        for j in range(3):
            a[12 + i, 12 + j] -= force * hessian[i, j]
    for i in range(18):
        rows[0, i], rows[1, i], rows[2, i] = a[15, i], a[16, i], 0.0
    if control in (HEIGHT, LENGTH):
        rows[2, 17] = 1.0
        r[17] = force
        _braced_rows(model, path, control, target, point, jacobian, size, r, rows)
    elif control == FORCE:
        rows[2, 17] = 1.0
        r[17] = force - target
    elif control == DRAW:
        r[17] = -target
        for i in range(3):
            r[17] += direction[i] * (path.border[i] - model.back[i])
            rows[2, 12 + i] = direction[i]
            for j in range(3):
                rows[2, 12 + i] += hessian[i, j] * (path.border[j] - model.back[j])
    else:
        r[17] = 0.5 * (point[0, 0] + point[1, 0]) - target
        for i in range(6):
            rows[2, i], rows[2, 6 + i] = 0.5 * jacobian[0, 0, i], 0.5 * jacobian[1, 0, i]


@compiled
def _braced_rows(
    model: Model,
    path: Path,
    control: int,
    target: float,
    point: Array,
    jacobian: Array,
    size: Array,
    r: Array,
    rows: Array,
) -> None:
    """Prescribe where the nocking point sits, and the brace height or the whole length."""
    if model.hold == 2:
        # the string's middle: both parts equally long
        r[15] = size[0] - size[1]
        for i in range(18):
            rows[0, i] -= rows[1, i]
        rows[0, 15] = rows[0, 16] = 0.0
    else:
        r[15] = path.border[2] - model.arrow
        for i in range(18):
            rows[0, i] = 0.0
        rows[0, 14] = 1.0
    if control == LENGTH:
        stretch = (path.border[3] + path.border[4]) / (2.0 * model.string_stiffness)
        r[16] = size[0] + size[1] - target * (1.0 + stretch)
        for i in range(6):
            along = 0.0
            for k in range(3):
                along += jacobian[0, k, i] * (path.border[k] - point[0, k])
            rows[1, i] = -along / size[0]
        for i in range(3):
            rows[1, 12 + i] += (path.border[i] - point[0, i]) / size[0]
        rows[1, 15] = rows[1, 16] = -0.5 * target / model.string_stiffness
        return
    for i in range(18):
        rows[1, i] = 0.0
    span = point[1, 2] - point[0, 2]
    share = (model.belly[2] - point[0, 2]) / span
    slope = (point[1, 0] - point[0, 0]) / span
    r[16] = point[0, 0] + share * (point[1, 0] - point[0, 0]) - model.belly[0] - target
    for i in range(6):
        rows[1, i] = (1.0 - share) * (jacobian[0, 0, i] - slope * jacobian[0, 2, i])
        rows[1, 6 + i] = share * (jacobian[1, 0, i] - slope * jacobian[1, 2, i])
