"""Newton's method on a strung bow, compiled."""

from __future__ import annotations

import math

from limbfe.beam.limbs.element import assemble
from limbfe.beam.limbs.linear import eliminate, solve_dense, substitute
from limbfe.beam.limbs.placing import rebuild
from limbfe.beam.model import BORDER, POINT, TENSION, Model, Path, Task, Work, tip_unknown
from limbfe.beam.string.equations import string_equations
from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array

TOLERANCE = 1e-9
"""Largest residual of an equilibrium: forces as a share of the largest of the chain's force scale
(`beam.limbs.chain.force_scale`), the string's tension and the pull; moments of that times the
bow's length, lengths of the bow's length."""
MAX_ITERATIONS = 25
MAX_TURN = 0.5
"""Largest rotation (rad) of a node in one Newton step; longer steps are scaled down."""
SETTLED, FAILED, GOING, DEEPER = range(4)


@compiled
def iterate(
    model: Model, path: Path, work: Work, task: Task, gap: float, passes: int, residuals: Array
) -> tuple[int, int, int]:
    """Iterate `path` in place towards the equilibrium of `task`.

    Parameters
    ----------
    gap : float
        Residual of what `model` was made from: of sections whose law is no straight line.
    passes : int
        To make before whatever follows the shape is asked again; with all of
        `MAX_ITERATIONS` nothing is, and a last step then costs no new equations.
    residuals : ndarray
        Written: the residual of every pass.

    Returns
    -------
    status : int
        `SETTLED`, `FAILED`, `GOING` after the last pass, or `DEEPER` where the string acts on more
        nodes of a limb than are kept.
    count : int
        Passes made.
    pivots : int
        Negative ones of the inner limbs; how many nodes to keep where these are too few.
    """
    previous, pivots = math.inf, 0
    for k in range(passes):
        norm, pivots, met = linearise(model, path, work, task)
        if met > model.kept:
            return DEEPER, k, met
        norm = max(norm, gap)
        residuals[k] = norm
        if not norm < 1e12 or pivots < 0:
            return FAILED, k + 1, pivots
        settled = norm < TOLERANCE
        polished = passes == 1 or norm < 1e-3 * TOLERANCE or norm > 0.3 * previous
        if not settled or not polished:
            advance(model, path, work)
        if settled:
            return SETTLED, k + 1, pivots
        previous = norm
    return GOING, passes, pivots


@compiled_inside
def linearise(model: Model, path: Path, work: Work, task: Task) -> tuple[float, int, int]:
    """Build the equations at `path`, eliminate the inner limbs and solve the reduced system.

    Returns the residual norm (see `TOLERANCE`), the number of negative pivots in the limbs
    (-1: singular), and on how many nodes of a limb the string acts; if more than are kept, nothing
    else is done.
    """
    n, lower, upper, kept = len(path.positions), model.lower, model.upper, model.kept
    diag, off, rhs, a, r = work.diag, work.off, work.rhs, work.symmetric, work.residual
    for node in range(n):
        for i in range(6):
            rhs[node, i] = 0.0
            for j in range(6):
                diag[node, i, j] = 0.0
    for i in range(len(r)):
        r[i] = 0.0
        for j in range(len(r)):
            a[i, j] = 0.0
    for limb in range(2):
        first, last = (0, lower) if limb == 0 else (upper, n - 1)
        assemble(
            path.rotations, path.positions, model.stiffness, model.offset, model.length,
            first, last, diag, off, rhs,
        )  # fmt: skip
    met = string_equations(model, path, task, work)
    if met > kept:
        return math.inf, -1, met
    norm = _norm(model, path, work)
    pivots = 0
    for limb in range(2):
        start, stop = (lower - 1, kept - 1) if limb == 0 else (upper + 1, n - kept)
        count = eliminate(diag, off, rhs, start, stop)
        pivots = -1 if count < 0 or pivots < 0 else pivots + count
        _add_kept(model, limb, work)
    count = _solve_reduced(kept, work)
    pivots = -1 if count < 0 or pivots < 0 else pivots + count
    return norm, pivots, met


@compiled_inside
def _solve_reduced(kept: int, work: Work) -> int:
    """Solve the reduced system, all kept nodes but the tips first, from within outwards.

    As those of the inner limbs their equations are the Hessian's own, and need no other pivots;
    the string's and the tips' are solved with pivoting.  Returned is how many pivots were
    negative, -1 where none will do.
    """
    a, r, m, negative = work.symmetric, work.residual, work.reduced, 0
    n = len(r)
    for i in range(n):
        for j in range(n):
            m[i, j] = a[i, j]
        m[i, n] = -r[i]
    for i in range(BORDER - TENSION):
        for j in range(n):
            m[n + i, j] = work.rows[i, j]
        m[n + i, n] = -r[TENSION + i]
    for limb in range(2):
        count = _eliminate_kept(m, BORDER + 6 * limb * kept, kept)
        if count < 0:
            return -1
        negative += count
    count = len(work.head)
    for i in range(count):
        row = n + i - TENSION if TENSION <= i < BORDER else tip_unknown(kept, i)
        for j in range(BORDER + 6):
            work.small[i, j] = m[row, j]
        for j in range(BORDER + 6, count):
            work.small[i, j] = m[row, tip_unknown(kept, j)]
        work.head[i, 0] = m[row, n]
    if not solve_dense(work.small, work.head):
        return -1
    for i in range(count):
        work.step[tip_unknown(kept, i)] = work.head[i, 0]
    for limb in range(2):
        _substitute_kept(m, BORDER + 6 * limb * kept, kept, work.step)
    return negative


@compiled_inside
def _eliminate_kept(m: Array, tip: int, kept: int) -> int:
    """Eliminate a limb's kept nodes but its tip from rows that may act on it and on the string.

    `m` (n + 3, n + 1) holds the Hessian, below it the rows that take the place of some, and beside
    both what they are to be.  Where a row does not meet the one that is eliminated nothing is done:
    a limb's nodes meet their neighbours, and what the string lies on the tip too.
    """
    n, negative = m.shape[1] - 1, 0
    for k in range(tip + 6 * kept - 1, tip + 5, -1):
        pivot = m[k, k]
        if not (abs(pivot) > 0.0) or not math.isfinite(pivot):
            return -1
        if pivot < 0.0:
            negative += 1
        for which in range(BORDER + k - tip + BORDER - TENSION):
            i = which if which < BORDER else which - BORDER + tip
            if i >= k:
                i += n - k
            f = m[i, k] / pivot
            if f == 0.0:
                continue
            for j in range(BORDER):
                m[i, j] -= f * m[k, j]
            for j in range(tip, k):
                m[i, j] -= f * m[k, j]
            m[i, n] -= f * m[k, n]
    return negative


@compiled_inside
def _substitute_kept(m: Array, tip: int, kept: int, step: Array) -> None:
    """Solve back after `_eliminate_kept`, where `step` holds the string's and the tip's."""
    n = m.shape[1] - 1
    for k in range(tip + 6, tip + 6 * kept):
        value = m[k, n]
        for j in range(BORDER):
            value -= m[k, j] * step[j]
        for j in range(tip, k):
            value -= m[k, j] * step[j]
        step[k] = value / m[k, k]


@compiled_inside
def _add_kept(model: Model, limb: int, work: Work) -> None:
    """Add the kept nodes of a limb, the inner ones eliminated, to the reduced system."""
    a, r, n = work.symmetric, work.residual, len(work.rhs)
    for depth in range(model.kept):
        node = depth if limb == 0 else n - 1 - depth
        at = BORDER + 6 * (limb * model.kept + depth)
        for i in range(6):
            r[at + i] += work.rhs[node, i]
            for j in range(6):
                a[at + i, at + j] += 0.5 * (work.diag[node, i, j] + work.diag[node, j, i])
        if depth + 1 == model.kept:
            continue
        off = work.off[node if limb == 0 else node - 1]
        low, high = (at, at + 6) if limb == 0 else (at + 6, at)
        for i in range(6):
            for j in range(6):
                a[low + i, high + j] += off[i, j]
                a[high + j, low + i] += off[i, j]


@compiled_inside
def _norm(model: Model, path: Path, work: Work) -> float:
    n, r = len(work.rhs), work.residual
    scale = model.force
    for i in range(TENSION, BORDER):
        scale = max(scale, abs(path.border[i]))
    norm = 0.0
    for node in range(n):
        if model.lower <= node <= model.upper:
            continue
        limb = 0 if node < model.lower else 1
        depth = node if limb == 0 else n - 1 - node
        at = BORDER + 6 * (limb * model.kept + depth)
        for i in range(6):
            value = work.rhs[node, i] + (r[at + i] if depth < model.kept else 0.0)
            value = abs(value) / (scale if i < 3 else scale * model.size)
            norm = max(norm, value) if value == value else math.inf
    for i in range(POINT, BORDER):
        value = abs(r[i]) / (scale if i < TENSION else model.size)
        norm = max(norm, value) if value == value else math.inf
    return norm


@compiled_inside
def advance(model: Model, path: Path, work: Work) -> None:
    """Move the path by Newton's step, or by less of it where a node would turn too far."""
    n, kept, step = len(path.positions), model.kept, work.rhs
    for node in range(n):
        held = model.lower <= node <= model.upper
        for i in range(6):
            step[node, i] = 0.0 if held else -step[node, i]
    for limb in range(2):
        for depth in range(kept):
            node = depth if limb == 0 else n - 1 - depth
            for i in range(6):
                step[node, i] = work.step[BORDER + 6 * (limb * kept + depth) + i]
        start, stop = (model.lower - 1, kept - 1) if limb == 0 else (model.upper + 1, n - kept)
        substitute(work.diag, work.off, step, start, stop)
    turn = 0.0
    for node in range(n):
        for i in range(3, 6):
            turn = max(turn, abs(step[node, i]))
    factor = MAX_TURN / turn if turn > MAX_TURN else 1.0
    for limb in range(2):
        start, stop = (model.lower, 0) if limb == 0 else (model.upper, n - 1)
        rebuild(path.rotations, path.positions, step, factor, start, stop)
    for i in range(BORDER):
        path.border[i] += factor * work.step[i]
