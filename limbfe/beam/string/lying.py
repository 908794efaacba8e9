"""A part of the string that touches its limb: its length's derivatives are all it takes.

The length is that of a string that slides over the belly (`limbfe.beam.string.seen`): the line it
touches and the straight ways between, seen along the belly's rulings, and the way aside.  The ends
of its stretches stay where they are in their elements (`limbfe.beam.string.taut` says why they
may).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from limbfe.beam.model import BORDER, POINT, TENSION, Ground, Model, Path, Work
from limbfe.beam.string.bed import element_at
from limbfe.beam.string.run import Run, add_force
from limbfe.beam.string.seen import add_aside, add_seen_length, tip_axes
from limbfe.beam.string.taut import Laid
from limbfe.beam.string.touch import Touch, add_curving, touch_point
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
    are written in `gradient` (6 kept + 3,) and `hessian`, those along ``exp(t delta)``, unless it
    is empty; where the part leaves the limb is written in `run`.
    """
    q, seconds = len(gradient) - 3, len(hessian) > 0
    gradient[:], hessian[:] = 0.0, 0.0
    node = 0 if part == 0 else len(path.positions) - 1
    tip, reach, first = tip_axes(path, part), np.empty(3), np.zeros(9)
    second = np.zeros((9, 9)) if seconds else hessian
    for i in range(3):
        reach[i] = path.border[POINT + i] - path.positions[node, i]
    aside = add_aside(tip, reach, model.bed.nock[part], first, second)
    seen, free = _add_seen(model, path, part, laid, gradient, hessian)
    size = math.sqrt(seen * seen + aside * aside)
    which = np.empty(9, dtype=np.int64)
    for i in range(9):
        which[i] = i if i < 6 else q + i - 6
    # of hypot(seen, aside)
    other = np.zeros(q + 3)
    for i in range(9):
        other[which[i]] = first[i]
    if seconds:
        share, lean, across = seen / size, aside / size, np.empty(q + 3)
        for i in range(q + 3):
            across[i] = share * other[i] - lean * gradient[i]
        for i in range(q + 3):
            for j in range(q + 3):
                hessian[i, j] = share * hessian[i, j] + across[i] * across[j] / size
        for i in range(9):
            for j in range(9):
                hessian[which[i], which[j]] += lean * second[i, j]
    for i in range(q + 3):
        gradient[i] = (seen * gradient[i] + aside * other[i]) / size
    # the free string goes back from the nocking point against the gradient there
    back = size * free / seen
    for i in range(3):
        run.leaves[part, i] = path.border[POINT + i] - back * gradient[q + i]
        if seconds:
            for j in range(q + 3):
                run.leaving[part, i, j] = -back * hessian[q + i, j]
            run.leaving[part, i, q + i] += 1.0
    return size


@compiled_inside
def _add_seen(
    model: Ground, path: Path, part: int, laid: Laid, gradient: Array, hessian: Array
) -> tuple[float, float]:
    """Return how long a part is as it is seen along the rulings, and its free end alone.

    Derivatives are added as by `lying_length`.
    """
    seconds, tip, size, free = len(hessian) > 0, tip_axes(path, part), 0.0, 0.0
    near, both = np.zeros(15), np.zeros((15, 15)) if seconds else hessian
    at, which = np.empty(2, dtype=np.int64), np.empty(15, dtype=np.int64)
    for k in range(laid.number[part]):
        low, high = laid.span[part, k, 0], laid.span[part, k, 1]
        while low < high:
            stop = min(high, math.floor(low + 1.0))
            element, share = element_at(model, part, 0.5 * (low + stop))
            half = 0.5 * (stop - low)
            near[:], both[:] = 0.0, 0.0
            ends = (share - half, share + half)
            size += add_seen_length(model, path, element, ends, tip, near, both)
            unknowns_of(model, part, element, at)
            for i in range(15):
                which[i] = _place(at, i) if i < 12 else i - 9
            _spread(which, near, both, gradient, hessian)
            low = stop
        free = _add_free(model, path, part, (laid, k), gradient, hessian)
        size += free
    return size, free


@compiled_inside
def _place(at: NDArray[np.int64], i: int) -> int:
    """Return which unknown one of the increments (12) of two nodes is; -1 if it is held."""
    base = at[i // 6]
    return -1 if base < 0 else int(base) + i % 6


@compiled_inside
def _spread(
    which: NDArray[np.int64], near: Array, both: Array, gradient: Array, hessian: Array
) -> None:
    """Add derivatives by some of the unknowns to those by all."""
    for i in range(len(which)):
        row = which[i]
        if row < 0:
            continue
        gradient[row] += near[i]
        if len(hessian) == 0:
            continue
        for j in range(len(which)):
            if which[j] >= 0:
                hessian[row, which[j]] += both[i, j]


@compiled_inside
def _add_free(
    model: Ground, path: Path, part: int, stretch: tuple[Laid, int], gradient: Array, hessian: Array
) -> float:
    """Add the straight way from the end of a stretch that touches to the next, or to the string's
    nocking point, as it is seen along the rulings; return its length.
    """
    laid, k = stretch
    q, last = len(gradient) - 3, k + 1 == laid.number[part]
    seconds, tip = len(hessian) > 0, tip_axes(path, part)
    at = np.empty((2, 2), dtype=np.int64)
    element, share = element_at(model, part, laid.span[part, k, 1])
    one, start, slope = touch_point(model, path, element, share)
    unknowns_of(model, part, element, at[0])
    place, rate, other = np.empty(3), np.zeros((3, 12)), one
    if last:
        for i in range(3):
            place[i], rate[i, i] = path.border[POINT + i], 1.0
    else:
        element, share = element_at(model, part, laid.span[part, k + 1, 0])
        other, place, rate = touch_point(model, path, element, share)
        unknowns_of(model, part, element, at[1])
    # unknowns (27): the tip's turn, two nodes, and two more or the nocking point
    count = 18 if last else 27
    which = np.empty(count, dtype=np.int64)
    for c in range(count):
        if c < 15:
            which[c] = c + 3 if c < 3 else _place(at[0], c - 3)
        else:
            which[c] = q + c - 15 if last else _place(at[1], c - 15)
    t, b, along, square = np.empty(3), np.empty(3), 0.0, 0.0
    for i in range(3):
        t[i], b[i] = place[i] - start[i], tip[i, 1]
        along += t[i] * b[i]
        square += t[i] ** 2
    size = math.sqrt(square - along * along)
    # t and b move by these; w turns b: b' = R (w x y) = w_x R_z - w_z R_x
    moved, leant = np.zeros((3, count)), np.zeros((3, 3))
    aside, near = np.zeros(count), np.empty(count)
    for i in range(3):
        leant[i, 0], leant[i, 2] = tip[i, 2], -tip[i, 0]
        for c in range(3, count):
            moved[i, c] = -slope[i, c - 3] if c < 15 else rate[i, c - 15]
    for c in range(count):
        direct = 0.0
        for i in range(3):
            aside[c] += b[i] * moved[i, c] + (t[i] * leant[i, c] if c < 3 else 0.0)
            direct += t[i] * moved[i, c]
        near[c] = (direct - along * aside[c]) / size
    both = np.zeros((count, count)) if seconds else hessian
    if seconds:
        _add_free_seconds(
            (one, other), last, (t, along, size), tip, moved, leant, aside, near, both
        )
    _spread(which, near, both, gradient, hessian)
    return size


@compiled_inside
def _add_free_seconds(
    ends: tuple[Touch, Touch],
    last: bool,
    way: tuple[Array, float, float],
    tip: Array,
    moved: Array,
    leant: Array,
    aside: Array,
    near: Array,
    both: Array,
) -> None:
    """Write the second derivatives (27, 27) of a free way t seen along b, of size f.

    With ``q = t.b``: ``f f'' = t'.t' + (t - q b).t'' - q'^2 - f'^2 - q (2 t'.b' + t.b'')``.
    """
    t, along, size = way
    count = len(near)
    for c in range(count):
        for e in range(count):
            value = -aside[c] * aside[e] - near[c] * near[e]
            for i in range(3):
                value += moved[i, c] * moved[i, e]
                if c < 3:
                    value -= along * leant[i, c] * moved[i, e]
                if e < 3:
                    value -= along * moved[i, c] * leant[i, e]
            both[c, e] += value / size
    # b'' = R (w (w.y) - y (w.w))
    for c in (0, 2):
        reach = 0.0
        for i in range(3):
            reach += t[i] * tip[i, c]
        both[c, 1] -= 0.5 * along * reach / size
        both[1, c] -= 0.5 * along * reach / size
        both[c, c] += along * along / size
    back, ahead = np.empty(3), np.empty(3)
    for i in range(3):
        ahead[i] = (t[i] - along * tip[i, 1]) / size
        back[i] = -ahead[i]
    add_curving(ends[0], back, both[3:15, 3:15])
    if not last:
        add_curving(ends[1], ahead, both[15:, 15:])


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
        for j in range(q):
            a[place, base + j] += share * tension * hessian[i, j]
        for j in range(3):
            a[place, POINT + j] += share * tension * hessian[i, q + j]
    first, force = 1.0 - closing, np.zeros(3)
    if first != 0.0:
        force[0] = tension * first
        add_force(run.jacobian[part, 0], model.bed.nock[part], force, base, a, r)
        for i in range(6):
            a[base + i, row] -= first * run.jacobian[part, 0, 0, i]
    a[row, row] = -path.string[part] / model.string_stiffness
    r[row] = run.size[part] - path.string[part] * (1.0 + tension / model.string_stiffness)
