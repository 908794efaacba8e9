"""The string's share of the equations, on what is left when the inner limbs are eliminated.

The unknowns left are those of the string, nocking point p, tensions and pull F, and the increments
of the kept nodes of each limb (`limbfe.beam.model`).  Tensions are unknowns of their own, so a
string of any stiffness, an inextensible one too, is equally easy on Newton's method.

Potential, with s the length of each part along its course and l its unstretched length:
``U + sum T (s - l) - T^2 l / (2 EA) - F (g(p) - g*)``.

The last three equations depend on what is prescribed.  Drawn: both lengths, and the draw length,
the pull or the tips' movement; a slack part's length gives way to no tension.  Braced, lengths
unknown: the place of the nocking point on the string, the brace height or the whole length, and no
pull.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from limbfe.beam.model import (
    BORDER,
    BRACED,
    CLAMP,
    DRAW,
    FORCE,
    LENGTH,
    POINT,
    PULL,
    TENSION,
    TILLER,
    Model,
    Path,
    Task,
    Work,
)
from limbfe.beam.string.hold import pull_direction
from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array


class Run(NamedTuple):
    """The string as it runs: places (2, p + 1, 3) of its points, the last of them p; how each moves
    with its unknowns, (2, p + 1, 3, 6), the first three columns for p; lengths (2,) of its parts.
    """

    point: Array
    jacobian: Array
    size: Array


@compiled_inside
def limb_point(path: Path, node: int, arm: Array, point: Array, jacobian: Array) -> None:
    """Write the place (3,) of a limb's point and its derivative (3, 6) by its node's increment."""
    o0, o1, o2 = arm[0], arm[1], arm[2]
    for i in range(3):
        r0 = path.rotations[node, i, 0]
        r1 = path.rotations[node, i, 1]
        r2 = path.rotations[node, i, 2]
        point[i] = path.positions[node, i] + r0 * o0 + r1 * o1 + r2 * o2
        jacobian[i, 0], jacobian[i, 1], jacobian[i, 2] = r0, r1, r2
        jacobian[i, 3] = r2 * o1 - r1 * o2
        jacobian[i, 4] = r0 * o2 - r2 * o0
        jacobian[i, 5] = r1 * o0 - r0 * o1


@compiled_inside
def add_force(jacobian: Array, arm: Array, force: Array, at: int, a: Array, r: Array) -> None:
    """Subtract a force on a limb's point from residual `r`, its own second-order term from `a`."""
    body = np.empty(3)
    dot = 0.0
    for i in range(6):
        value = 0.0
        for k in range(3):
            value += jacobian[k, i] * force[k]
        r[at + i] -= value
        if i < 3:
            body[i] = value
            dot += value * arm[i]
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
            a[at + 3 + i, at + 3 + j] -= 0.5 * (body[i] * arm[j] + arm[i] * body[j])


@compiled_inside
def add_stretch(
    run: Run, part: int, ends: tuple[int, int], t: Array, factor: float, at: Array, a: Array
) -> None:
    """Add the block ``factor J^T (I - t t^T) J`` of a tensioned stretch between two points.

    `ends` are the points whose rows and columns are meant, `at` (p + 1,) where the unknowns of
    every point of the part begin.
    """
    row, column = ends
    last = run.point.shape[1] - 1
    left, right = run.jacobian[part, row], run.jacobian[part, column]
    high, wide = 3 if row == last else 6, 3 if column == last else 6
    for j in range(wide):
        along = t[0] * right[0, j] + t[1] * right[1, j] + t[2] * right[2, j]
        b0 = factor * (right[0, j] - t[0] * along)
        b1 = factor * (right[1, j] - t[1] * along)
        b2 = factor * (right[2, j] - t[2] * along)
        for i in range(high):
            value = left[0, i] * b0 + left[1, i] * b1 + left[2, i] * b2
            a[at[row] + i, at[column] + j] += value


@compiled_inside
def lay_string(model: Model, path: Path) -> Run:
    """Return the string's points as it runs; the lengths of its parts are still to be written."""
    most = model.course.node.shape[1]
    run = Run(np.empty((2, most + 1, 3)), np.empty((2, most + 1, 3, 6)), np.empty(2))
    for part in range(2):
        run.size[part] = 0.0
        for k in range(model.course.points[part]):
            node, arm = model.course.node[part, k], model.course.arm[part, k]
            limb_point(path, node, arm, run.point[part, k], run.jacobian[part, k])
        for i in range(3):
            run.point[part, most, i] = path.border[POINT + i]
            for j in range(3):
                run.jacobian[part, most, i, j] = 1.0 if i == j else 0.0
    return run


@compiled_inside
def add_part(model: Model, path: Path, part: int, closing: float, run: Run, work: Work) -> None:
    """Add one part of the string: force and stiffness of its stretches, and its length's gradient.

    The forces on the limb's points, not those on the nocking point, are scaled by `closing`.
    """
    course, a, r = model.course, work.symmetric, work.residual
    count, most = course.points[part], run.point.shape[1] - 1
    row, n = TENSION + part, len(path.positions)
    tension = path.border[row]
    at = np.empty(most + 1, dtype=np.int64)
    at[most] = POINT
    for k in range(count):
        depth = course.node[part, k] if part == 0 else n - 1 - course.node[part, k]
        at[k] = BORDER + 6 * (part * model.kept + depth)
    t, force = np.empty(3), np.empty((most + 1, 3))
    for k in range(most + 1):
        for i in range(3):
            force[k, i] = 0.0
    for k in range(count):
        end = k + 1 if k + 1 < count else most
        square = 0.0
        for i in range(3):
            t[i] = run.point[part, end, i] - run.point[part, k, i]
            square += t[i] ** 2
        size = math.sqrt(square)
        run.size[part] += size
        for i in range(3):
            t[i] /= size
            force[k, i] += t[i]
            force[end, i] -= t[i]
        factor, share = tension / size, 1.0 if end == most else closing
        for corner in range(4):
            row_end, column_end = k if corner < 2 else end, k if corner % 2 == 0 else end
            weight = factor * (closing if corner < 2 else share)
            weight = weight if row_end == column_end else -weight
            add_stretch(run, part, (row_end, column_end), t, weight, at, a)
    for i in range(3):
        r[POINT + i] -= tension * force[most, i]
        a[POINT + i, row] = a[row, POINT + i] = -force[most, i]
    for k in range(count):
        first = 1.0 - closing if k == 0 else 0.0
        for i in range(6):
            along = 0.0
            for m in range(3):
                along -= run.jacobian[part, k, m, i] * force[k, m]
            a[row, at[k] + i] = along
            a[at[k] + i, row] = closing * along - first * run.jacobian[part, k, 0, i]
        for i in range(3):
            force[k, i] *= tension * closing
        force[k, 0] += tension * first
        add_force(run.jacobian[part, k], course.arm[part, k], force[k], at[k], a, r)
    a[row, row] = -path.string[part] / model.string_stiffness
    r[row] = run.size[part] - path.string[part] * (1.0 + tension / model.string_stiffness)


@compiled
def string_equations(model: Model, path: Path, task: Task, work: Work) -> None:
    """Add the string to the reduced system of `work`, whose arrays hold zeros or the limbs' share.

    Its Hessian prescribes both lengths and g; it is not symmetric while the string is not closed.
    The residual is that of the equations really solved, and `rows` is written.
    """
    a, r, rows, border = work.symmetric, work.residual, work.rows, path.border
    run = lay_string(model, path)
    for part in range(2):
        add_part(model, path, part, task.closing, run, work)
        if path.slack[part]:
            row = TENSION + part
            for i in range(len(r)):
                a[row, i] = a[i, row] = 0.0
            a[row, row], r[row] = -1.0, -border[row]
    if path.slack[0] and path.slack[1]:
        # a string that carries nothing hangs where it is
        for i in range(POINT, TENSION):
            a[i, i] += model.force / model.size
    direction, hessian = np.empty(3), np.empty((3, 3))
    braced = task.control in BRACED
    # a braced bow carries no pull, and its nocking point may pass through the hand on the way
    hold = CLAMP if braced else model.hold
    pull_direction(hold, model.point, model.half_length, border, direction, hessian)
    for i in range(3):
        r[POINT + i] -= border[PULL] * direction[i]
        a[POINT + i, PULL] = a[PULL, POINT + i] = -direction[i]
        for j in range(3):
            a[POINT + i, POINT + j] -= border[PULL] * hessian[i, j]
    for i in range(len(r)):
        rows[0, i], rows[1, i], rows[2, i] = a[TENSION, i], a[TENSION + 1, i], 0.0
    if braced:
        rows[2, PULL], r[PULL] = 1.0, border[PULL]
        _braced_rows(model, path, task, run, work)
    elif task.control == FORCE:
        rows[2, PULL], r[PULL] = 1.0, border[PULL] - task.target
    elif task.control == DRAW:
        r[PULL] = -task.target
        for i in range(3):
            r[PULL] += direction[i] * (border[POINT + i] - model.back[i])
            rows[2, POINT + i] = direction[i]
            for j in range(3):
                rows[2, POINT + i] += hessian[i, j] * (border[POINT + j] - model.back[j])
    else:
        r[PULL] = 0.5 * (run.point[0, 0, 0] + run.point[1, 0, 0]) - task.target
        for part in range(2):
            at = BORDER + 6 * part * model.kept
            for i in range(6):
                rows[2, at + i] = 0.5 * run.jacobian[part, 0, 0, i]


@compiled_inside
def _braced_rows(model: Model, path: Path, task: Task, run: Run, work: Work) -> None:
    """Prescribe where the nocking point sits, and the brace height or the whole length."""
    a, r, rows, border = work.symmetric, work.residual, work.rows, path.border
    lower, upper = TENSION, TENSION + 1
    for i in range(len(r)):
        rows[0, i] = a[lower, i] - a[upper, i] if model.hold == TILLER else 0.0
        rows[1, i] = a[lower, i] + a[upper, i] if task.control == LENGTH else 0.0
    rows[0, lower] = rows[0, upper] = 0.0
    if model.hold == TILLER:
        # the string's middle: both parts equally long
        r[lower] = run.size[0] - run.size[1]
    else:
        r[lower] = border[POINT + 2] - model.arrow
        rows[0, POINT + 2] = 1.0
    if task.control == LENGTH:
        stretch = (border[lower] + border[upper]) / (2.0 * model.string_stiffness)
        r[upper] = run.size[0] + run.size[1] - task.target * (1.0 + stretch)
        rows[1, lower] = rows[1, upper] = -0.5 * task.target / model.string_stiffness
        return
    # the height of the line between the two points at which the string leaves the limbs
    points = model.course.points
    low, high = run.point[0, points[0] - 1], run.point[1, points[1] - 1]
    span = high[2] - low[2]
    share, slope = (model.belly[2] - low[2]) / span, (high[0] - low[0]) / span
    r[upper] = low[0] + share * (high[0] - low[0]) - model.belly[0] - task.target
    for part in range(2):
        node = model.course.node[part, points[part] - 1]
        depth = node if part == 0 else len(path.positions) - 1 - node
        at = BORDER + 6 * (part * model.kept + depth)
        weight = share if part == 1 else 1.0 - share
        moved = run.jacobian[part, points[part] - 1]
        for i in range(6):
            rows[1, at + i] = weight * (moved[0, i] - slope * moved[2, i])
