"""Where the string of a bow runs, measured in the bow's own frame."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from limbfe.beam.model import POINT, PULL, TENSION, Model, Path
from limbfe.frames import Array


def limb_points(model: Model, path: Path, part: int) -> Array:
    """Return the points of a limb that a part of the string bends on, (k, 3), the nock first."""
    nodes, arms = model.course.node[part], model.course.arm[part]
    count = int(model.course.points[part])
    return np.array(
        [path.positions[nodes[k]] + path.rotations[nodes[k]] @ arms[k] for k in range(count)]
    )


def nocks(model: Model, path: Path) -> tuple[Array, Array]:
    """Return the places of the lower and the upper nock, each of shape (3,)."""
    return limb_points(model, path, 0)[0], limb_points(model, path, 1)[0]


def string_height(model: Model, path: Path) -> float:
    """Return the distance along X from the grip's belly to the line of a braced string."""
    low, high = limb_points(model, path, 0)[-1], limb_points(model, path, 1)[-1]
    share = (model.belly[2] - low[2]) / (high[2] - low[2])
    return float(low[0] + share * (high[0] - low[0]) - model.belly[0])


def part_lengths(model: Model, path: Path) -> Array:
    """Return the lengths (2,) of both parts from nock to nocking point."""
    lengths = []
    for part in range(2):
        points = [*limb_points(model, path, part), path.border[POINT:TENSION]]
        lengths.append(sum(math.dist(a, b) for a, b in pairwise(points)))
    return np.array(lengths)


def unstretched_lengths(model: Model, path: Path) -> Array:
    """Return the lengths (2,) that both parts would have without their tension."""
    lengths: Array = part_lengths(model, path) / (
        1.0 + path.border[TENSION:PULL] / model.string_stiffness
    )
    return lengths
