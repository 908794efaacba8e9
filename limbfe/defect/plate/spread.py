"""Means of strain over a length of limb."""

from __future__ import annotations

import numpy as np
from scipy import sparse

from limbfe.defect.plate.body import BodyMesh
from limbfe.fem.spatial import cKDTree

ASIDE = 3e-3
"""Half width (m) of the stretch over which strain is averaged: an element of the coarse mesh."""


def spread_along(meshed: BodyMesh) -> sparse.csr_array:
    """Return what averages a field over one depth of limb along it, shape (points, elements).

    From means over elements to the quadrature points; straight lines across the limb stay what
    they are.  Only wood counts, not what lies in knots.

    Notes
    -----
    Weights fall straight to nothing at one depth of the limb from a point, and at `ASIDE` across.
    The depth is the least length over which plane sections can bend a limb more sharply than
    beside it, and on plane sections rests the law of crushing past the peak, which bars bent to
    breaking gave.
    """
    to, at = meshed.points, meshed.at
    points = to.reshape(*at.weights.shape, 2)
    clear = (meshed.here.inside < 0).mean(axis=1).reshape(at.weights.shape)
    area = at.weights.sum(axis=1)
    middle = (at.weights[..., None] * points).sum(axis=1) / area[:, None]
    wood = (at.weights * clear).sum(axis=1)
    scale = np.array([_depth(meshed), ASIDE])
    near = cKDTree(to / scale).sparse_distance_matrix(
        cKDTree(middle / scale), 1.0, p=np.inf, output_type="coo_matrix"
    )
    i, j = near.row, near.col
    away = np.abs(to[i] - middle[j]) / scale
    weight = np.prod(1.0 - away, axis=1) * wood[j]
    aside = middle[j, 1] - to[i, 1]
    count = len(to)
    total, first, second = (
        np.bincount(i, weights=weight * aside**k, minlength=count) for k in range(3)
    )
    spread = total * second - first**2
    # a weight that rises across the limb makes up for wood that lies on one side only
    even = spread > 1e-3 * total * second
    own = np.where(even[i], second[i] - first[i] * aside, 1.0)
    norm = np.where(even, spread, total)
    weight *= own / np.where(norm > 0.0, norm, 1.0)[i]
    return sparse.csr_array((weight, (i, j)), shape=(count, len(middle)))


def _depth(meshed: BodyMesh) -> float:
    """Return how far belly and back lie apart in the middle of a piece, m."""
    strip = meshed.body.strip
    if meshed.body.wood.plane == "flat":
        return meshed.levels[1] - meshed.levels[0]
    middle = 0.5 * (strip.x[0] + strip.x[-1])
    return float(np.interp(middle, strip.x, strip.left - strip.right))
