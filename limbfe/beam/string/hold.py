"""How the bow is held, as the direction the string is pulled in, seen from the bow's own grip.

Each hold is a distance function g(p) of the nocking point p: the pull acts along its gradient
and does work ``force * dg``.  With the grip fixed in the bow's frame:

clamp    g = x of p: the grip cannot turn, the pull stays along the bow's own X.
hand     g = distance from the hand's pressure point: the bow turns freely about it, so push
         and pull are collinear.
tiller   g = x of p while the line of pull meets the cradle; outside, distance in the X-Z plane
         from the cradle's edge on which the bow has come to rock.
"""

from __future__ import annotations

import math

import numpy as np

from limbfe.beam.model import CLAMP, POINT, TENSION, TILLER, Model
from limbfe.compiled import compiled
from limbfe.frames import Array


@compiled
def pull_direction(
    kind: int, point: Array, half_length: float, p: Array, direction: Array, hessian: Array
) -> float:
    """Write the gradient (3,) and Hessian (3, 3) of g at `p`; return g.

    `p` may be longer than 3; `kind` is a position in `limbfe.beam.model.HOLDS`.
    """
    x: float = p[0] - point[0]
    y: float = p[1] - point[1]
    z: float = p[2] - point[2]
    for i in range(3):
        direction[i] = 0.0
        for j in range(3):
            hessian[i, j] = 0.0
    direction[0] = 1.0
    if kind == CLAMP or (kind == TILLER and abs(z) <= half_length):
        return x
    if kind == TILLER:
        z -= math.copysign(half_length, z)
        y = 0.0
    g = math.sqrt(x * x + y * y + z * z)
    direction[0], direction[1], direction[2] = x / g, y / g, z / g
    for i in range(3):
        for j in range(3):
            hessian[i, j] = -direction[i] * direction[j] / g
        hessian[i, i] += 1.0 / g
    if kind == TILLER:
        hessian[1, 1] = 0.0
    return g


def line_of_pull(model: Model, point: Array) -> tuple[float, Array, Array]:
    """Return g, its gradient (3,), which is the direction of the pull, and its Hessian (3, 3).

    `point` is the nocking point in the bow's own frame.
    """
    direction, hessian = np.empty(3), np.empty((3, 3))
    g = pull_direction(model.hold, model.point, model.half_length, point, direction, hessian)
    return g, direction, hessian


def length_along_pull(model: Model, point: Array) -> float:
    """Return the draw length: from the back at the middle of the grip to `point`, along the pull.

    `point` as in `line_of_pull`.  A braced bow has one too: that at which its draw begins.
    """
    direction = line_of_pull(model, point)[1]
    return float(direction @ (point[POINT:TENSION] - model.back))
