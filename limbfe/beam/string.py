"""The string's share of the equations, on what is left when both limbs are eliminated.

The unknowns left are the increments of the lower (0-5) and upper (6-11) tip and a border:
with the string drawn, the nocking point (12-14), the two tensions (15, 16) and the draw force
(17); while bracing, one tension (12).  Tensions are unknowns of their own, so a string of any
stiffness, an inextensible one too, is equally easy on Newton's method.

Potential of a drawn bow (`|p - a|` from nock to nocking point, l the unstretched length):
``U + sum T (|p - a| - l) - T^2 l / (2 EA) - F (g(p) - g*)``.
Potential while bracing: ``U + T (c |a_u - a_l| - (1 - c) (a_u + a_l) . X)``, where the closing
parameter c goes from 0 (both nocks pulled towards the archer) to 1 (a string between them).
"""

from __future__ import annotations

import math

import numpy as np

from limbfe.beam.compiled import compiled
from limbfe.beam.hold import draw_length, pull_direction
from limbfe.beam.model import DRAW, FORCE, HEIGHT, Model, Path
from limbfe.frames import Array


@compiled
def nock(rotation: Array, position: Array, arm: Array, point: Array, jacobian: Array) -> None:
    """Write the nock's place (3,) and its derivative by the tip's body increment (3, 6)."""
    for i in range(3):
        r0, r1, r2 = rotation[i, 0], rotation[i, 1], rotation[i, 2]
        point[i] = position[i] + r0 * arm[0] + r1 * arm[1] + r2 * arm[2]
        jacobian[i, 0], jacobian[i, 1], jacobian[i, 2] = r0, r1, r2
        jacobian[i, 3] = r2 * arm[1] - r1 * arm[2]
        jacobian[i, 4] = r0 * arm[2] - r2 * arm[0]
        jacobian[i, 5] = r1 * arm[0] - r0 * arm[1]


@compiled
def add_nock_force(jacobian: Array, arm: Array, force: Array, tip: int, a: Array, r: Array) -> None:
    """Subtract a force on the nock from residual `r`, its own second-order term from `a`."""
    body = np.empty(3)
    for i in range(6):
        value = 0.0
        for k in range(3):
            value += jacobian[k, i] * force[k]
        r[6 * tip + i] -= value
        if i < 3:
            body[i] = value
    at, dot = 6 * tip, 0.0
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        half = 0.5 * body[k]
        # -[force]/2 couples translation (rows) with rotation (columns)
        a[at + i, at + 3 + j] += half
        a[at + j, at + 3 + i] -= half
        a[at + 3 + j, at + i] += half
        a[at + 3 + i, at + j] -= half
        dot += body[k] * arm[k]
    for i in range(3):
        a[at + 3 + i, at + 3 + i] += dot
        for j in range(3):
            a[at + 3 + i, at + 3 + j] -= 0.5 * (body[i] * arm[j] + arm[i] * body[j])


@compiled
def add_segment_stiffness(
    ja: Array, jb: Array, t: Array, factor: float, ra: int, rb: int, a: Array
) -> None:
    """Add ``ja^T factor (I - t t^T) jb`` to the block of `a` at row `ra`, column `rb`."""
    for i in range(ja.shape[1]):
        along = 0.0
        for k in range(3):
            along += ja[k, i] * t[k]
        for j in range(jb.shape[1]):
            value = 0.0
            for k in range(3):
                value += (ja[k, i] - along * t[k]) * jb[k, j]
            a[ra + i, rb + j] += factor * value


@compiled
def drawn_equations(
    model: Model, path: Path, control: int, target: float, a: Array, r: Array, last: Array
) -> None:
    """Add the drawn string to the reduced system.

    Parameters
    ----------
    a : ndarray, shape (18, 18)
        The tips' blocks are added to, the rest is set; symmetric, last row for a prescribed g.
    r : ndarray, shape (18,)
        Residual likewise.
    last : ndarray, shape (18,)
        Written: the row that really prescribes `control` (draw length, draw force or tip
        movement).
    """
    p, force = path.border[:3], path.border[5]
    point, t, f = np.empty(3), np.empty(3), np.empty(3)
    ja, identity = np.empty((3, 6)), np.eye(3)
    movement = 0.0
    last[:] = 0.0
    for tip in range(2):
        node = 0 if tip == 0 else len(path.positions) - 1
        arm = model.nocks[tip]
        nock(path.rotations[node], path.positions[node], arm, point, ja)
        tension, natural = path.border[3 + tip], path.string[tip]
        size = 0.0
        for k in range(3):
            t[k] = p[k] - point[k]
            size += t[k] * t[k]
        size = math.sqrt(size)
        for k in range(3):
            t[k] /= size
            f[k] = tension * t[k]
        add_nock_force(ja, arm, f, tip, a, r)
        factor = tension / size
        add_segment_stiffness(ja, ja, t, factor, 6 * tip, 6 * tip, a)
        add_segment_stiffness(ja, identity, t, -factor, 6 * tip, 12, a)
        add_segment_stiffness(identity, ja, t, -factor, 12, 6 * tip, a)
        add_segment_stiffness(identity, identity, t, factor, 12, 12, a)
        row = 15 + tip
        for i in range(6):
            value = 0.0
            for k in range(3):
                value -= ja[k, i] * t[k]
            a[row, 6 * tip + i] = a[6 * tip + i, row] = value
        for k in range(3):
            a[row, 12 + k] = a[12 + k, row] = t[k]
            r[12 + k] += f[k]
        a[row, row] = -natural / model.string_stiffness
        r[row] = size - natural * (1.0 + tension / model.string_stiffness)
        movement += 0.5 * (point[0] - _rest_nock(model, tip))
        if control != DRAW and control != FORCE:
            for i in range(6):
                last[6 * tip + i] = 0.5 * ja[0, i]
    direction, hessian = np.empty(3), np.empty((3, 3))
    pull_direction(model.hold, model.point, model.half_length, p, direction, hessian)
    for i in range(3):
        r[12 + i] -= force * direction[i]
        a[12 + i, 17] = a[17, 12 + i] = -direction[i]
        for j in range(3):
            a[12 + i, 12 + j] -= force * hessian[i, j]
    if control == DRAW:
        r[17] = (
            draw_length(model.hold, model.point, model.half_length, model.back, p, last[12:15])
            - target
        )
    elif control == FORCE:
        last[17] = 1.0
        r[17] = force - target
    else:
        r[17] = movement - target


@compiled
def _rest_nock(model: Model, tip: int) -> float:
    node = 0 if tip == 0 else len(model.positions) - 1
    value: float = model.positions[node, 0]
    for k in range(3):
        value += model.rotations[node, 0, k] * model.nocks[tip, k]
    return value


@compiled
def braced_equations(
    model: Model,
    path: Path,
    control: int,
    target: float,
    closing: float,
    a: Array,
    r: Array,
    last: Array,
) -> None:
    """Add the string that runs straight from nock to nock (or its forerunner) to the system.

    Shapes as in `drawn_equations` with 13 rows; `control` is brace height or string length.
    """
    tension = path.border[3]
    low, high, t, unit = np.empty(3), np.empty(3), np.empty(3), np.empty(3)
    jl, ju = np.empty((3, 6)), np.empty((3, 6))
    n = len(path.positions)
    nock(path.rotations[0], path.positions[0], model.nocks[0], low, jl)
    nock(path.rotations[n - 1], path.positions[n - 1], model.nocks[1], high, ju)
    size = 0.0
    for k in range(3):
        t[k] = high[k] - low[k]
        size += t[k] * t[k]
    size = math.sqrt(size)
    for k in range(3):
        t[k] /= size
    factor = tension * closing / size
    add_segment_stiffness(jl, jl, t, factor, 0, 0, a)
    add_segment_stiffness(ju, ju, t, factor, 6, 6, a)
    add_segment_stiffness(jl, ju, t, -factor, 0, 6, a)
    add_segment_stiffness(ju, jl, t, -factor, 6, 0, a)
    last[:] = 0.0
    for tip in range(2):
        jacobian = jl if tip == 0 else ju
        sign = 1.0 if tip == 0 else -1.0
        for k in range(3):
            unit[k] = sign * closing * t[k]
        unit[0] += 1.0 - closing
        add_nock_force(jacobian, model.nocks[tip], tension * unit, tip, a, r)
        for i in range(6):
            value, along = 0.0, 0.0
            for k in range(3):
                value += jacobian[k, i] * unit[k]
                along += jacobian[k, i] * t[k]
            a[6 * tip + i, 12] = a[12, 6 * tip + i] = -value
            last[6 * tip + i] = -sign * along
    if control == HEIGHT:
        span = high[2] - low[2]
        share = (model.belly[2] - low[2]) / span
        slope = (high[0] - low[0]) / span
        r[12] = low[0] + share * (high[0] - low[0]) - model.belly[0] - target
        for i in range(6):
            last[i] = (1.0 - share) * (jl[0, i] - slope * jl[2, i])
            last[6 + i] = share * (ju[0, i] - slope * ju[2, i])
    else:
        r[12] = size - target * (1.0 + tension / model.string_stiffness)
        last[12] = -target / model.string_stiffness
    a[12, 12] = -size / model.string_stiffness if closing == 1.0 else 0.0
