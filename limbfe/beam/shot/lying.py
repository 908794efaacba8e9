"""The ends of the string that lie on the limbs as these move, in compiled code.

The string's first and its last segment, from the nocks to the string's points next to them, may lie
on the limbs' beds: each is as long as the shortest way over its bed, which `limbfe.beam.string`
finds in a shape at rest and here at the end and in the middle of a step.  As a straight segment it
has an energy V of its length alone, and in a step it does exactly the work that V loses,

    T = (V(L') - V(L))/(L' - L),   on every node it meets  T dL/d(node), half-way.

So the limb takes what the string presses it with, all along and only pushing; it comes down and
lifts off without a jump, and nothing is lost or stored in touching.  What is left of an error of
energy is that ``dL`` half-way is not exactly the change of L, third order in a step; forces
half-way keep momentum, as those of the elements.  The mass of such a segment moves with its ends.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from limbfe.beam.model import BORDER, POINT, Limbs, Path
from limbfe.beam.shot.bodies import add_turned_momentum
from limbfe.beam.shot.parts import LIES, Motion, Scratch, ShotModel
from limbfe.beam.shot.strands import segment_pull
from limbfe.beam.string.course import lying_line
from limbfe.beam.string.lying import lying_length
from limbfe.beam.string.run import lay_string
from limbfe.beam.string.taut import elements_of, lay_part, new_laid, nodes_met_by
from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array

CLEAR = 1e-6
"""What stands less far out of the string (m) does not touch it."""
SOON = 60


@compiled_inside
def path_to(rotations: Array, positions: Array, point: Array) -> Path:
    """Return a shape whose string ends at a point."""
    border = np.zeros(BORDER)
    for i in range(3):
        border[POINT + i] = point[i]
    return Path(rotations, positions, border, np.zeros(2), np.zeros(2, dtype=np.int64))


@compiled
def end_length(
    limbs: Limbs, side: int, rotations: Array, positions: Array, point: Array,
    gradient: Array, hessian: Array, leaves: Array, along: Array,
) -> int:  # fmt: skip
    """Write the shortest way from a nock over its bed to a point of the string.

    Parameters
    ----------
    side : int
        0 for the lower limb.
    rotations, positions, point : ndarray, shapes (n, 3, 3), (n, 3), (3,)
        A shape, and where the way ends.
    gradient, hessian : ndarray, shapes (q,), (q, q), q = 6 kept + 3
        Written: derivatives of the length by the increments of the kept nodes, tip first, and by
        the point; second ones along ``exp(t delta)``, unless `hessian` is empty.
    leaves : ndarray, shape (3,)
        Written: where it leaves the bed.
    along : ndarray, shape (2,)
        Written: the length, m, and where it leaves in elements from the tip.

    Returns
    -------
    int
        On how many nodes it acts; -1 where it cannot be laid, or acts on more than are kept.
    """
    path = path_to(rotations, positions, point)
    gradient[:], hessian[:] = 0.0, 0.0
    laid = new_laid()
    lay_part(limbs, path, side, laid)
    met = nodes_met_by(limbs, laid, side)
    if met > limbs.kept or met >= elements_of(limbs, side):
        return -1
    run = lay_string(limbs, path)
    along[0] = lying_length(limbs, path, side, laid, run, gradient, hessian)
    along[1] = laid.span[side, laid.number[side] - 1, 1]
    for i in range(3):
        leaves[i] = run.leaves[side, i]
    return met


def lay_ends(model: ShotModel, motion: Motion) -> bool:
    """Write where the string of a motion leaves the limbs; return False if it cannot be laid."""
    q = 6 * model.limbs.kept + 3
    gradient, hessian = np.empty(q), np.empty((0, 0))
    for side in range(2):
        met = end_length(
            model.limbs, side, motion.rotations, motion.positions, motion.points[-side],
            gradient, hessian, motion.leaves[side], motion.along[side],
        )  # fmt: skip
        if met < 0:
            return False
    return True


@compiled_inside
def add_lying(
    model: ShotModel, old: Motion, new: Motion, work: Scratch, h: float, slopes: bool
) -> bool:
    """Add what the string's ends do to the limbs they may lie on and to the points next to them,
    and the derivatives if `slopes` are asked for."""
    kept, mean, n, limbs = model.limbs.kept, np.empty(3), len(model.mass), model.limbs
    q = 6 * kept + 3
    late, middle = np.empty(q), np.empty(q)
    unused = np.empty((0, 0))
    hessian = np.empty((q, q)) if slopes else unused
    rows, leaves, along = np.empty(kept + 1, dtype=np.int64), np.empty(3), np.empty(2)
    for side in range(2):
        k = 0 if side == 0 else len(new.points) - 1
        segment = 0 if side == 0 else len(model.rest) - 1
        for i in range(3):
            mean[i] = 0.5 * (old.points[k, i] + new.points[k, i])
        halfway = end_length(
            limbs, side, work.rotations, work.positions, mean, middle, hessian, leaves, along
        )
        met = end_length(
            limbs, side, new.rotations, new.positions, new.points[k],
            late, unused, new.leaves[side], new.along[side],
        )  # fmt: skip
        if met < 0 or halfway < 0:
            return False
        pull, slope = segment_pull(
            model.string_stiffness, model.string_lag, model.rest[segment],
            old.along[side, 0], new.along[side, 0], h,
        )  # fmt: skip
        work.pull[segment] = pull
        rows[kept] = model.point[k]
        for depth in range(kept):
            node = depth if side == 0 else n - 1 - depth
            rows[depth] = model.place[node] if depth < max(met, halfway) else -1
        _add_pull(side, pull, slope, late, middle, hessian, rows, work)
    return True


@compiled_inside
def _add_pull(
    side: int, pull: float, slope: float, late: Array, middle: Array, hessian: Array,
    rows: NDArray[np.int64], work: Scratch,
) -> None:  # fmt: skip
    """Add the pull of one end of the string on nodes and point, and its derivatives.

    Parameters
    ----------
    side : int
        0 for the lower limb.
    pull, slope : float
        Tension, and its derivative by the length at the step's end.
    late, middle : ndarray, shape (q,)
        Gradient of the length at the end and half-way.
    hessian : ndarray, shape (q, q)
        Its second derivatives half-way; empty where none are to be added.
    rows : ndarray of int, shape (kept + 1,)
        Where the unknowns of the nodes, tip first, and of the point begin; -1 where none is met.
    """
    kept, n, diagonal = len(rows) - 1, len(work.delta), work.band.shape[1] // 2
    block, own = np.empty((6, 6)), np.empty(6)
    for column in range(kept + 1):
        at, width = rows[column], 6 if column < kept else 3
        if at < 0:
            continue
        node = column if side == 0 else n - 1 - column
        for i in range(width):
            work.rhs[at + i, 0] += pull * middle[6 * column + i]
        if len(hessian) == 0:
            continue
        # the length's change at the end with this body's increment
        change = np.zeros(6)
        for j in range(width):
            if column == kept:
                change[j] = late[6 * kept + j]
                continue
            for m in range(6):
                change[j] += late[6 * column + m] * work.turn[node, m, j]
        for row in range(kept + 1):
            to, height = rows[row], 6 if row < kept else 3
            if to < 0:
                continue
            block[:] = 0.0
            for i in range(height):
                for j in range(width):
                    if column == kept:
                        block[i, j] = 0.5 * hessian[6 * row + i, 6 * kept + j]
                        continue
                    for m in range(6):
                        block[i, j] += hessian[6 * row + i, 6 * column + m] * work.half[node, m, j]
            if row == column and row < kept:
                # along one motion after another the second derivatives are not symmetric
                for i in range(6):
                    own[i] = 0.5 * middle[6 * row + i]
                add_turned_momentum(own, work.half[node], block)
            for i in range(height):
                for j in range(width):
                    value = pull * block[i, j] + slope * middle[6 * row + i] * change[j]
                    work.band[to + i, diagonal + at + j - to - i] += value


def string_line(model: ShotModel, motion: Motion) -> Array:
    """Return the string of a motion as a line (k, 3) that follows the limbs it lies on."""
    middle = model.nocking
    sides = [motion.points[: middle + 1], motion.points[: middle - 1 if middle else None : -1]]
    for side, points in enumerate(sides):
        nock = motion.nocks[side, None]
        if model.lies == LIES and motion.along[side, 1] > 0.0:
            lies = np.array([[0.0, motion.along[side, 1]]])
            end = path_to(motion.rotations, motion.positions, points[0])
            nock = lying_line(model.limbs, end, side, lies)
        sides[side] = np.concatenate([nock, points])
    return np.concatenate([sides[0], sides[1][-2::-1]])


@compiled
def struck(
    model: ShotModel, rotations: Array, positions: Array, nocks: Array, points: Array
) -> tuple[float, int]:
    """Return how far from the nocks (m) the string came down on the limbs in a row of states, and
    in which state first.

    Of every other state; only the `SOON` after that one count: what it does later it would not do
    if it lay there.
    Looked at are the beds' places at the nodes, along the belly's rulings as the string is laid,
    beside those segments that were not laid on them; 0 where all kept clear.

    Parameters
    ----------
    rotations, positions : ndarray, shapes (k, n, 3, 3), (k, n, 3)
    nocks, points : ndarray, shapes (k, 2, 3), (k, s - 1, 3)
    """
    limbs, far, when, n = model.limbs, 0.0, 0, len(model.mass)
    if limbs.bed.lies == 0:
        return far, when
    place, ruling, first = np.empty(3), np.empty(3), 1 if model.lies == LIES else 0
    for state in range(0, len(positions), 2):
        if far > 0.0 and state > when + SOON:
            break
        for side in range(2):
            for i in range(3):
                ruling[i] = rotations[state, 0 if side == 0 else n - 1, i, 1]
            # what lies less far down than what was found already needs no look
            length = 0.0
            for depth in range(1, elements_of(limbs, side)):
                node = depth if side == 0 else n - 1 - depth
                length += limbs.length[node - 1 if side == 0 else node]
                if length <= far:
                    continue
                for i in range(3):
                    place[i] = positions[state, node, i]
                    for m in range(3):
                        place[i] += rotations[state, node, i, m] * limbs.bed.arm[node, m]
                if _stands_out(model, side, first, place, ruling, nocks[state], points[state]):
                    when = state if far == 0.0 else when
                    far = length
    return far, when


@compiled_inside
def _stands_out(
    model: ShotModel, side: int, first: int, place: Array, ruling: Array, nocks: Array,
    points: Array,
) -> bool:  # fmt: skip
    """Whether a place on a limb stands out of the half string beside it, seen along a ruling, from
    a segment on.
    """
    last, middle = len(points) - 1, model.nocking
    count = middle + 1 if side == 0 else last - middle + 1
    for s in range(first, count):
        if side == 0:
            a, b = nocks[0] if s == 0 else points[s - 1], points[s]
        else:
            a, b = nocks[1] if s == 0 else points[last - s + 1], points[last - s]
        square, share, rise, ahead, beside = 0.0, 0.0, 0.0, 0.0, 0.0
        for i in range(3):
            j, k = (i + 1) % 3, (i + 2) % 3
            square += (b[i] - a[i]) ** 2
            share += (place[i] - a[i]) * (b[i] - a[i])
            ahead += (b[i] - a[i]) * ruling[i]
            beside += (place[i] - a[i]) * ruling[i]
            across = (b[j] - a[j]) * (place[k] - a[k]) - (b[k] - a[k]) * (place[j] - a[j])
            rise += ruling[i] * (across if side == 0 else -across)
        square -= ahead * ahead
        share -= ahead * beside
        if 0.0 <= share <= square and rise > CLEAR * np.sqrt(square):
            return True
    return False
