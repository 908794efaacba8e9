"""Put the nodes of a chain in place from what its elements do, compiled."""

from __future__ import annotations

import numpy as np

from limbfe.beam.limbs.motion import move, twist_between, twist_increment
from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array


@compiled_inside
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
        for i in range(3):
            old_position[i] = positions[new, i]
            for j in range(3):
                old_rotation[i, j] = rotations[new, i, j]
        _put(rotations, positions, node, new, d)


@compiled
def lay_out(rotations: Array, positions: Array, twist: Array, lower: int, upper: int) -> None:
    """Put the nodes together again from the elements' twists (m, 6), outwards from the grip."""
    step = np.empty(6)
    for node in range(lower - 1, -1, -1):
        for i in range(6):
            step[i] = -twist[node, i]
        _put(rotations, positions, node + 1, node, step)
    for node in range(upper, len(twist)):
        for i in range(6):
            step[i] = twist[node, i]
        _put(rotations, positions, node, node + 1, step)


@compiled_inside
def _put(rotations: Array, positions: Array, node: int, new: int, step: Array) -> None:
    """Put a node at a step from another; element by element, since Numba compiles slices slowly."""
    for i in range(3):
        positions[new, i] = positions[node, i]
        for j in range(3):
            rotations[new, i, j] = rotations[node, i, j]
    move(rotations[new], positions[new], step)
