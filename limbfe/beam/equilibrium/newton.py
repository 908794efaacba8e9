"""Newton's method on a strung bow, compiled."""

from __future__ import annotations

import math

from limbfe.beam.limbs.element import assemble
from limbfe.beam.limbs.linear import eliminate, solve_dense, substitute
from limbfe.beam.limbs.placing import rebuild
from limbfe.beam.model import BORDER, POINT, TENSION, Model, Path, Task, Work
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
    for i in range(len(r)):
        work.step[i, 0] = -r[i]
        for j in range(len(r)):
            replaced = TENSION <= i < BORDER
            work.reduced[i, j] = work.rows[i - TENSION, j] if replaced else a[i, j]
    if not solve_dense(work.reduced, work.step):
        pivots = -1
    return norm, pivots, met


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
                step[node, i] = work.step[BORDER + 6 * (limb * kept + depth) + i, 0]
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
        path.border[i] += factor * work.step[i, 0]
