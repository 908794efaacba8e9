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

import numpy as np
from numpy.typing import NDArray

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
from limbfe.beam.string.lying import add_lying_part
from limbfe.beam.string.run import Run, add_force, lay_string
from limbfe.beam.string.taut import lay, nodes_met
from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array


@compiled_inside
def add_stretch(
    run: Run,
    part: int,
    ends: tuple[int, int],
    t: Array,
    factor: float,
    at: NDArray[np.int64],
    a: Array,
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
def add_part(model: Model, path: Path, part: int, closing: float, run: Run, work: Work) -> None:
    """Add a part of the string that is straight from the nock to the nocking point.

    Its force and stiffness, and its length's gradient.  The force on the limb, not that on the
    nocking point, is scaled by `closing`.
    """
    a, r = work.symmetric, work.residual
    row = TENSION + part
    tension = path.border[row]
    at = np.empty(2, dtype=np.int64)
    at[0], at[1] = BORDER + 6 * part * model.kept, POINT
    t, force = np.empty(3), np.empty((2, 3))
    square = 0.0
    for i in range(3):
        t[i] = run.point[part, 1, i] - run.point[part, 0, i]
        square += t[i] ** 2
    size = math.sqrt(square)
    run.size[part] = size
    for i in range(3):
        t[i] /= size
        force[0, i], force[1, i] = t[i], -t[i]
    factor = tension / size
    for corner in range(4):
        row_end, column_end = (0 if corner < 2 else 1), (0 if corner % 2 == 0 else 1)
        weight = factor * (closing if corner < 2 else 1.0)
        weight = weight if row_end == column_end else -weight
        add_stretch(run, part, (row_end, column_end), t, weight, at, a)
    for i in range(3):
        r[POINT + i] -= tension * force[1, i]
        a[POINT + i, row] = a[row, POINT + i] = -force[1, i]
    first = 1.0 - closing
    for i in range(6):
        along = 0.0
        for m in range(3):
            along -= run.jacobian[part, 0, m, i] * force[0, m]
        a[row, at[0] + i] = along
        a[at[0] + i, row] = closing * along - first * run.jacobian[part, 0, 0, i]
    for i in range(3):
        force[0, i] *= tension * closing
    force[0, 0] += tension * first
    add_force(run.jacobian[part, 0], model.bed.nock[part], force[0], at[0], a, r)
    a[row, row] = -path.string[part] / model.string_stiffness
    r[row] = run.size[part] - path.string[part] * (1.0 + tension / model.string_stiffness)


@compiled
def string_equations(model: Model, path: Path, task: Task, work: Work) -> int:
    """Add the string to the reduced system of `work`, whose arrays hold zeros or the limbs' share.

    Its Hessian prescribes both lengths and g; it is not symmetric while the string is not closed.
    The residual is that of the equations really solved, and `rows` is written.  Returned is on how
    many nodes of a limb the string acts; nothing is added where these are more than are `kept`.
    """
    a, r, rows, border = work.symmetric, work.residual, work.rows, path.border
    laid = lay(model, path)
    most = nodes_met(model, laid)
    if most > model.kept:
        return most
    run = lay_string(model, path)
    for part in range(2):
        if laid.number[part] == 1 and laid.span[part, 0, 1] == 0.0:
            add_part(model, path, part, task.closing, run, work)
        else:
            add_lying_part(model, path, part, task.closing, laid, run, work)
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
    return most


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
    low, high = run.leaves[0], run.leaves[1]
    span = high[2] - low[2]
    share, slope = (model.belly[2] - low[2]) / span, (high[0] - low[0]) / span
    r[upper] = low[0] + share * (high[0] - low[0]) - model.belly[0] - task.target
    for part in range(2):
        weight = share if part == 1 else 1.0 - share
        moved, q = run.leaving[part], 6 * model.kept
        for i in range(q + 3):
            at = BORDER + part * q + i if i < q else POINT + i - q
            rows[1, at] += weight * (moved[0, i] - slope * moved[2, i])
