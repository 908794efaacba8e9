"""Newton's method on a strung bow and the path that leads from state to state, compiled."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from limbfe.beam.compiled import compiled
from limbfe.beam.element import assemble
from limbfe.beam.linear import count_negative, eliminate, solve_dense, substitute
from limbfe.beam.model import HEIGHT, LENGTH, TOLERANCE, Model, Path, Work
from limbfe.beam.motion import move, twist_between, twist_increment
from limbfe.beam.string import braced_equations, drawn_equations, nock
from limbfe.frames import Array

Counts = NDArray[np.int64]

MAX_ITERATIONS = 25
SMALLEST_STEP = 1e-4
"""Smallest part of a requested step that is still tried before giving up."""
MAX_TURN = 0.5
"""Largest rotation (rad) of a node in one Newton step; longer steps are scaled down."""


@compiled
def linearise(
    model: Model, path: Path, work: Work, control: int, target: float, closing: float
) -> tuple[float, int]:
    """Build and reduce the equations at `path`.

    Returns the residual norm (a share of the force scale, lengths as a share of the bow's) and
    the number of negative pivots in the limbs (-1: singular).
    """
    n, lower, upper = len(path.positions), model.lower, model.upper
    diag, off, rhs = work.diag, work.off, work.rhs
    diag[:] = 0.0
    rhs[:] = 0.0
    assemble(
        path.rotations, path.positions, model.stiffness, model.offset, model.length,
        0, lower, diag, off, rhs,
    )  # fmt: skip
    assemble(
        path.rotations, path.positions, model.stiffness, model.offset, model.length,
        upper, n - 1, diag, off, rhs,
    )  # fmt: skip
    size = 13 if control <= LENGTH else 18
    a, r, last = work.symmetric, np.zeros(size), np.zeros(size)
    a[:] = 0.0
    if size == 13:
        braced_equations(model, path, control, target, closing, a, r, last)
    else:
        drawn_equations(model, path, control, target, a, r, last)
    scale = max(model.force, abs(path.border[3]), abs(path.border[4]), abs(path.border[5]))
    norm = _norm(model, rhs, r, size, scale)
    for node in range(n):
        for i in range(6):
            for j in range(i):
                diag[node, i, j] = diag[node, j, i] = 0.5 * (diag[node, i, j] + diag[node, j, i])
    low = eliminate(diag, off, rhs, lower - 1, 0)
    high = eliminate(diag, off, rhs, upper + 1, n - 1)
    for i in range(6):
        r[i] += rhs[0, i]
        r[6 + i] += rhs[n - 1, i]
        for j in range(6):
            a[i, j] += diag[0, i, j]
            a[6 + i, 6 + j] += diag[n - 1, i, j]
    for i in range(size):
        work.columns[i, 0] = -r[i]
        work.columns[i, 1] = 0.0
        for j in range(size):
            work.reduced[i, j] = a[i, j] if i < size - 1 else last[j]
    work.columns[size - 1, 1] = 1.0
    return norm, -1 if low < 0 or high < 0 else low + high


@compiled
def _norm(model: Model, rhs: Array, r: Array, size: int, scale: float) -> float:
    n = len(rhs)
    norm = 0.0
    for node in range(n):
        if model.lower <= node <= model.upper:
            continue
        for i in range(6):
            value = rhs[node, i]
            if node == 0:
                value += r[i]
            elif node == n - 1:
                value += r[6 + i]
            value = abs(value) / scale if i < 3 else abs(value) / (scale * model.size)
            norm = max(norm, value) if value == value else math.inf
    for i in range(12, size):
        value = abs(r[i]) / (scale if size == 18 and i < 15 else model.size)
        norm = max(norm, value) if value == value else math.inf
    return norm


@compiled
def advance(model: Model, path: Path, work: Work, size: int, column: int, factor: float) -> None:
    """Move the path by `factor` times solution `column` of the reduced system."""
    n = len(path.positions)
    x, step = work.columns, work.rhs
    if column == 1:
        step[:] = 0.0
    for i in range(6):
        step[0, i] = x[i, column]
        step[n - 1, i] = x[6 + i, column]
    if column == 0:
        for node in range(n):
            if 0 < node < model.lower or model.upper < node < n - 1:
                for i in range(6):
                    step[node, i] = -step[node, i]
    substitute(work.diag, work.off, step, model.lower - 1, 0)
    substitute(work.diag, work.off, step, model.upper + 1, n - 1)
    step[model.lower : model.upper + 1] = 0.0
    turn = 0.0
    for node in range(n):
        for i in range(3, 6):
            turn = max(turn, abs(factor * step[node, i]))
    if turn > MAX_TURN:
        factor *= MAX_TURN / turn
    rebuild(path.rotations, path.positions, step, factor, model.lower, 0)
    rebuild(path.rotations, path.positions, step, factor, model.upper, n - 1)
    if size == 18:
        for i in range(6):
            path.border[i] += factor * x[12 + i, column]
    else:
        path.border[3] += factor * x[12, column]


@compiled
def rebuild(
    rotations: Array, positions: Array, step: Array, factor: float, start: int, stop: int
) -> None:
    """Give each element its linear change of twist and put the nodes together again.

    From the held node `start` outwards.  Moving every node along its own increment would
    stretch a stiff axis by the square of the rotation and send Newton's method astray; this
    way strains change exactly as the linear solve said, and large steps converge.
    """
    sign = 1 if stop > start else -1
    d = np.empty(6)
    old_rotation, old_position = rotations[start].copy(), positions[start].copy()
    for node in range(start, stop, sign):
        new = node + sign
        if sign > 0:
            twist_between(old_rotation, old_position, rotations[new], positions[new], d)
            twist_increment(d, step[node], step[new], factor)
        else:
            twist_between(rotations[new], positions[new], old_rotation, old_position, d)
            twist_increment(d, step[new], step[node], factor)
            for i in range(6):
                d[i] = -d[i]
        old_rotation[:] = rotations[new]
        old_position[:] = positions[new]
        rotations[new] = rotations[node]
        positions[new] = positions[node]
        move(rotations[new], positions[new], d)


@compiled
def newton(
    model: Model, path: Path, work: Work, control: int, target: float, closing: float, limit: int
) -> tuple[bool, int, int]:
    """Iterate to equilibrium; the path is left at the last iterate whatever happens.

    Returns
    -------
    converged : bool
        The residual fell below `TOLERANCE`.
    iterations : int
        Residuals evaluated, recorded in ``work.residuals``.
    negative : int
        Negative eigenvalues of the tangent, those of the multipliers taken off; 0 is stable.
        Only right where the iteration converged.
    """
    size, multipliers = (13, 1) if control <= LENGTH else (18, 3)
    previous = math.inf
    for iteration in range(limit):
        norm, pivots = linearise(model, path, work, control, target, closing)
        work.residuals[iteration] = norm
        if not norm < 1e12 or pivots < 0:
            return False, iteration + 1, -1
        converged = norm < TOLERANCE
        negative = -1
        if converged:
            negative = pivots + count_negative(work.symmetric[:size, :size].copy()) - multipliers
        if not solve_dense(work.reduced[:size, :size], work.columns[:size]):
            return False, iteration + 1, -1
        if converged and (norm < 1e-3 * TOLERANCE or norm > 0.3 * previous):
            return True, iteration + 1, negative
        advance(model, path, work, size, 0, 1.0)
        if converged:
            return True, iteration + 1, negative
        previous = norm
    return False, limit, -1


@compiled
def follow(
    model: Model,
    path: Path,
    work: Work,
    control: int,
    targets: tuple[float, float],
    closing: tuple[float, float],
    predict: bool,
) -> tuple[int, float, int, int]:
    """Lead a converged path from one target to another, halving the step where Newton fails.

    Parameters
    ----------
    targets, closing : (float, float)
        Prescribed value and closing parameter at the start and at the end.
    predict : bool
        `work` holds the factorisation of the start under the same control: go along the
        tangent before the first iteration.

    Returns
    -------
    status : int
        0 at the end; 1 Newton fails; 2 a part of the string is slack.
    reached : float
        Share of the way that was reached; the path is left there.
    iterations, negative : int
        Of the last converged Newton solve.
    """
    done, step = 0.0, 1.0
    status, iterations, negative = 0, 0, -1
    tangent = predict and closing[0] == closing[1]
    size = 13 if control <= LENGTH else 18
    while done < 1.0:
        work.saved_rotations[:] = path.rotations
        work.saved_positions[:] = path.positions
        work.saved_border[:] = path.border
        at = min(1.0, done + step)
        if tangent:
            advance(model, path, work, size, 1, (at - done) * (targets[1] - targets[0]))
        converged, count, neg = newton(
            model, path, work, control,
            targets[0] + at * (targets[1] - targets[0]),
            closing[0] + at * (closing[1] - closing[0]), MAX_ITERATIONS,
        )  # fmt: skip
        slack = converged and min(path.border[3], path.border[4] if size == 18 else 0.0) < 0.0
        if converged and not slack:
            done, iterations, negative = at, count, neg
            step *= 2.0
            tangent = closing[0] == closing[1]
            continue
        status = 2 if slack else 1
        path.rotations[:] = work.saved_rotations
        path.positions[:] = work.saved_positions
        path.border[:] = work.saved_border
        tangent = False
        step *= 0.25
        if step < SMALLEST_STEP:
            return status, done, count, negative
    return 0, done, iterations, negative


@compiled
def trace(
    model: Model,
    path: Path,
    work: Work,
    control: int,
    start: float,
    targets: Array,
    rotations: Array,
    positions: Array,
    borders: Array,
    counts: Counts,
    residuals: Array,
) -> tuple[int, int, float]:
    """Follow the drawn path through `targets` (k,) and record the state at each.

    Parameters
    ----------
    rotations, positions, borders : ndarray, shapes (k, n, 3, 3), (k, n, 3), (k, 6)
        Written.
    counts : ndarray, shape (k, 2), int
        Written: iterations and negative eigenvalues.
    residuals : ndarray, shape (k, MAX_ITERATIONS)
        Written: residual history of the last Newton solve of each state, then zeros.

    Returns
    -------
    status : int
        As in `follow`.
    done : int
        States recorded.
    value : float
        Prescribed value last reached.
    """
    value = start
    for k in range(len(targets)):
        status, reached, iterations, negative = follow(
            model, path, work, control, (value, targets[k]), (1.0, 1.0), k > 0
        )
        value += reached * (targets[k] - value)
        counts[k, 0], counts[k, 1] = iterations, negative
        residuals[k, :] = 0.0
        for i in range(iterations):
            residuals[k, i] = work.residuals[i]
        if status != 0:
            return status, k, value
        rotations[k], positions[k], borders[k] = path.rotations, path.positions, path.border
    return 0, len(targets), value


@compiled
def brace_to_height(
    model: Model, path: Path, work: Work, height: float
) -> tuple[int, float, int, int]:
    """Bend a bow at rest until a string between its nocks stands at `height`; as `follow`.

    Two dead pulls towards the archer bend the limbs to the height; then the pulls are turned
    into the string's direction while the height is kept, so the shape hardly changes on the way
    and a straight limb never meets its buckling point.
    """
    start = string_height(model, path)
    first = follow(model, path, work, HEIGHT, (start, height), (0.0, 0.0), False)
    if first[0] != 0:
        return first
    return follow(model, path, work, HEIGHT, (height, height), (0.0, 1.0), False)


@compiled
def brace_to_length(
    model: Model, path: Path, work: Work, length: float
) -> tuple[int, float, int, int]:
    """Brace with a string of unstretched `length`: first to some height, then on to the length."""
    result = (1, 0.0, 0, -1)
    for share in (0.1, 0.15, 0.2, 0.07, 0.05):
        path.rotations[:] = model.rotations
        path.positions[:] = model.positions
        path.border[:] = 0.0
        result = brace_to_height(model, path, work, share * model.size)
        if result[0] == 0:
            start = chord(model, path) / (1.0 + path.border[3] / model.string_stiffness)
            return follow(model, path, work, LENGTH, (start, length), (1.0, 1.0), False)
    return result


@compiled
def string_height(model: Model, path: Path) -> float:
    """Return the distance along X from the grip's belly to the line between the nocks."""
    low, high = np.empty(3), np.empty(3)
    _nocks(model, path, low, high)
    share = (model.belly[2] - low[2]) / (high[2] - low[2])
    height: float = low[0] + share * (high[0] - low[0]) - model.belly[0]
    return height


@compiled
def chord(model: Model, path: Path) -> float:
    """Return the distance between the nocks."""
    low, high = np.empty(3), np.empty(3)
    _nocks(model, path, low, high)
    return math.sqrt(np.sum((high - low) ** 2))


@compiled
def _nocks(model: Model, path: Path, low: Array, high: Array) -> None:
    jacobian = np.empty((3, 6))
    last = len(path.positions) - 1
    nock(path.rotations[0], path.positions[0], model.nocks[0], low, jacobian)
    nock(path.rotations[last], path.positions[last], model.nocks[1], high, jacobian)
