"""The string's ends as it runs, how they move with the unknowns, and forces on a limb's points."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from limbfe.beam.model import POINT, Ground, Path
from limbfe.compiled import compiled_inside
from limbfe.frames import Array


class Run(NamedTuple):
    """The string as it runs.

    Places (2, 2, 3) of nock and nocking point of each part; how they move with their unknowns,
    (2, 2, 3, 6), the first three columns for the nocking point; lengths (2,) of the parts.
    `leaves` (2, 3) are the points at which it leaves the limbs; `leaving` (2, 3, 6 kept + 3) how
    points of the free string that are there move with the increments of the kept nodes, tip first,
    and the nocking point.  Along the string they may slide.
    """

    point: Array
    jacobian: Array
    size: Array
    leaves: Array
    leaving: Array


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
def lay_string(model: Ground, path: Path) -> Run:
    """Return the string's ends as it runs; the lengths of its parts are still to be written."""
    run = Run(
        np.empty((2, 2, 3)), np.empty((2, 2, 3, 6)), np.zeros(2),
        np.empty((2, 3)), np.zeros((2, 3, 6 * model.kept + 3)),
    )  # fmt: skip
    for part in range(2):
        node = 0 if part == 0 else len(path.positions) - 1
        nock, jacobian = run.point[part, 0], run.jacobian[part, 0]
        limb_point(path, node, model.bed.nock[part], nock, jacobian)
        for i in range(3):
            run.leaves[part, i] = nock[i]
            for j in range(6):
                run.leaving[part, i, j] = jacobian[i, j]
            run.point[part, 1, i] = path.border[POINT + i]
            for j in range(3):
                run.jacobian[part, 1, i, j] = 1.0 if i == j else 0.0
    return run
