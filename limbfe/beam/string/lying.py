"""A part of the string that touches its limb: its length's derivatives are all it takes.

The length is that of the line on the belly where it touches and straight between; the ends of its
stretches stay where they are in their elements (`limbfe.beam.string.taut` says why they may).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from limbfe.beam.model import BORDER, POINT, TENSION, Ground, Model, Path, Work
from limbfe.beam.string.bed import add_length, element_at
from limbfe.beam.string.run import Run, add_force
from limbfe.beam.string.taut import Laid
from limbfe.beam.string.touch import add_curving, touch_point
from limbfe.compiled import compiled_inside
from limbfe.frames import Array


@compiled_inside
def unknowns_of(model: Ground, part: int, element: int, at: NDArray[np.int64]) -> None:
    """Write where the increments of an element's two nodes begin among `kept` ones; -1 if held."""
    n = len(model.length) + 1
    for end in range(2):
        node = element + end
        depth = node if part == 0 else n - 1 - node
        held = model.lower <= node <= model.upper
        at[end] = -1 if held else 6 * depth


@compiled_inside
def add_lying_part(
    model: Model, path: Path, part: int, closing: float, laid: Laid, run: Run, work: Work
) -> None:
    """Add a part of the string that touches its limb, as `add_part` a straight one.

    All follows from its length, the shortest, by the nodes' increments and the nocking point.
    """
    q = 6 * model.kept
    gradient, hessian = np.zeros(q + 3), np.zeros((q + 3, q + 3))
    run.size[part] = lying_length(model, path, part, laid, run, gradient, hessian)
    _add_shortest(model, path, part, closing, gradient, hessian, run, work)


@compiled_inside
def lying_length(
    model: Ground, path: Path, part: int, laid: Laid, run: Run, gradient: Array, hessian: Array
) -> float:
    """Return the length of a part of the string from its nock to the nocking point.

    Its first and second derivatives, by the increments of the kept nodes and by the nocking point,
    are added to `gradient` (6 kept + 3,) and `hessian`, those along ``exp(t delta)``, unless it is
    empty; where the part leaves the limb is written in `run`.
    """
    near, both = np.zeros(12), np.zeros((12, 12)) if len(hessian) > 0 else hessian
    at, size = np.empty(2, dtype=np.int64), 0.0
    for k in range(laid.number[part]):
        low, high = laid.span[part, k, 0], laid.span[part, k, 1]
        while low < high:
            stop = min(high, math.floor(low + 1.0))
            element, share = element_at(model, part, 0.5 * (low + stop))
            half = 0.5 * (stop - low)
            near[:], both[:] = 0.0, 0.0
            size += add_length(model, path, element, (share - half, share + half), near, both)
            unknowns_of(model, part, element, at)
            _spread(at, near, both, gradient, hessian)
            low = stop
        size += _add_free(model, path, part, (laid, k), run, gradient, hessian)
    return size


@compiled_inside
def _spread(
    at: NDArray[np.int64], near: Array, both: Array, gradient: Array, hessian: Array
) -> None:
    """Add derivatives by two nodes' increments to those by all."""
    for i in range(12):
        row = at[i // 6]
        if row < 0:
            continue
        gradient[row + i % 6] += near[i]
        if len(hessian) == 0:
            continue
        for j in range(12):
            column = at[j // 6]
            if column >= 0:
                hessian[row + i % 6, column + j % 6] += both[i, j]


@compiled_inside
def _add_free(
    model: Ground,
    path: Path,
    part: int,
    stretch: tuple[Laid, int],
    run: Run,
    gradient: Array,
    hessian: Array,
) -> float:
    """Add the straight way from the end of a stretch that touches to the next, or to the string's
    nocking point; return its length.
    """
    laid, k = stretch
    q, last = len(gradient) - 3, k + 1 == laid.number[part]
    at = np.empty((2, 2), dtype=np.int64)
    element, share = element_at(model, part, laid.span[part, k, 1])
    one = touch_point(model, path, element, share)
    unknowns_of(model, part, element, at[0])
    place, rate, other = np.empty(3), np.zeros((3, 12)), one
    if last:
        for i in range(3):
            place[i], rate[i, i] = path.border[POINT + i], 1.0
            run.leaves[part, i] = one.place[i]
            for j in range(12):
                run.leaving[part, i, j] = one.jacobian[i, j]
        for end in range(2):
            base = BORDER + 6 * part * model.kept + at[0, end]
            run.by[part, end] = base if at[0, end] >= 0 else -1
    else:
        element, share = element_at(model, part, laid.span[part, k + 1, 0])
        other = touch_point(model, path, element, share)
        unknowns_of(model, part, element, at[1])
        place[:], rate[:] = other.place, other.jacobian
    t, back, square = np.empty(3), np.empty(3), 0.0
    for i in range(3):
        t[i] = place[i] - one.place[i]
        square += t[i] ** 2
    size = math.sqrt(square)
    for i in range(3):
        t[i] /= size
        back[i] = -t[i]
    # unknowns (27): two nodes at either end, and the nocking point, of which only some are met
    slope, which = np.empty((3, 27)), np.empty(27, dtype=np.int64)
    for c in range(27):
        if c < 12:
            base, column = at[0, c // 6], c % 6
            which[c] = -1 if base < 0 else base + column
        elif c < 24:
            base, column = (-1 if last else at[1, (c - 12) // 6]), c % 6
            which[c] = -1 if base < 0 else base + column
        else:
            which[c] = q + c - 24 if last else -1
        for i in range(3):
            if c < 12:
                slope[i, c] = -one.jacobian[i, c]
            elif c < 24:
                slope[i, c] = rate[i, c - 12]
            else:
                slope[i, c] = 1.0 if i == c - 24 else 0.0
    along = np.empty(27)
    for c in range(27):
        along[c] = t[0] * slope[0, c] + t[1] * slope[1, c] + t[2] * slope[2, c]
        if which[c] >= 0:
            gradient[which[c]] += along[c]
    if len(hessian) == 0:
        return size
    own, far = np.zeros((12, 12)), np.zeros((12, 12))
    add_curving(one, back, own)
    if not last:
        add_curving(other, t, far)
    for b in range(27):
        if which[b] < 0:
            continue
        for c in range(27):
            if which[c] < 0:
                continue
            value = -along[b] * along[c]
            for i in range(3):
                value += slope[i, b] * slope[i, c]
            value /= size
            if b < 12 and c < 12:
                value += own[b, c]
            elif 12 <= b < 24 and 12 <= c < 24:
                value += far[b - 12, c - 12]
            hessian[which[b], which[c]] += value
    return size


@compiled_inside
def _add_shortest(
    model: Model,
    path: Path,
    part: int,
    closing: float,
    gradient: Array,
    hessian: Array,
    run: Run,
    work: Work,
) -> None:
    """Add a part of the string of which only the length is known, by its derivatives."""
    a, r, q, row = work.symmetric, work.residual, len(gradient) - 3, TENSION + part
    tension, base = path.border[row], BORDER + 6 * part * model.kept
    for i in range(q + 3):
        place = base + i if i < q else POINT + i - q
        share = closing if i < q else 1.0
        r[place] += share * tension * gradient[i]
        a[row, place], a[place, row] = gradient[i], share * gradient[i]
        for j in range(q + 3):
            a[place, base + j if j < q else POINT + j - q] += share * tension * hessian[i, j]
    first, force = 1.0 - closing, np.zeros(3)
    if first != 0.0:
        force[0] = tension * first
        add_force(run.jacobian[part, 0], model.bed.nock[part], force, base, a, r)
        for i in range(6):
            a[base + i, row] -= first * run.jacobian[part, 0, 0, i]
    a[row, row] = -path.string[part] / model.string_stiffness
    r[row] = run.size[part] - path.string[part] * (1.0 + tension / model.string_stiffness)
