"""Second-order shape functions on the reference triangle and square.

Node order of the triangle: corners (0,0), (1,0), (0,1), then the middles of edges 0-1, 1-2,
2-0.  Node order of the square: corners (-1,-1), (1,-1), (1,1), (-1,1), then the middles of
edges 0-1, 1-2, 2-3, 3-0, then the centre.  These are the orders of VTK and meshio
(``triangle6``, ``quad9``).
"""

from __future__ import annotations

import numpy as np

from limbfe.frames import Array


def triangle6(points: Array) -> tuple[Array, Array]:
    """Return values and gradients of the six quadratic functions of the triangle.

    Parameters
    ----------
    points : ndarray, shape (q, 2), reference coordinates

    Returns
    -------
    values : ndarray, shape (q, 6)
    gradients : ndarray, shape (q, 6, 2), with respect to the reference coordinates
    """
    r, s = points[:, 0], points[:, 1]
    t = 1.0 - r - s
    zero = np.zeros_like(r)
    d_r = [1 - 4 * t, 4 * r - 1, zero, 4 * (t - r), 4 * s, -4 * s]
    d_s = [1 - 4 * t, zero, 4 * s - 1, -4 * r, 4 * r, 4 * (t - s)]
    gradients = np.stack([np.stack(d_r, axis=1), np.stack(d_s, axis=1)], axis=2)
    return triangle6_values(points), gradients


def triangle6_values(points: Array) -> Array:
    """Return the values alone of the six quadratic functions of the triangle, shape (q, 6)."""
    r, s = points[:, 0], points[:, 1]
    t = 1.0 - r - s
    return np.stack(
        [t * (2 * t - 1), r * (2 * r - 1), s * (2 * s - 1), 4 * r * t, 4 * r * s, 4 * s * t],
        axis=1,
    )


_QUAD9_AT = np.array([[0, 0], [2, 0], [2, 2], [0, 2], [1, 0], [2, 1], [1, 2], [0, 1], [1, 1]])


def quad9(points: Array) -> tuple[Array, Array]:
    """Return values and gradients of the nine biquadratic functions of the square.

    Parameters
    ----------
    points : ndarray, shape (q, 2), reference coordinates

    Returns
    -------
    values : ndarray, shape (q, 9)
    gradients : ndarray, shape (q, 9, 2), with respect to the reference coordinates
    """
    lines, slopes = [], []
    for k in range(2):
        x = points[:, k]
        lines.append(np.stack([x * (x - 1) / 2, 1 - x * x, x * (x + 1) / 2], axis=1))
        slopes.append(np.stack([x - 0.5, -2 * x, x + 0.5], axis=1))
    i, j = _QUAD9_AT[:, 0], _QUAD9_AT[:, 1]
    values = lines[0][:, i] * lines[1][:, j]
    gradients = np.stack([slopes[0][:, i] * lines[1][:, j], lines[0][:, i] * slopes[1][:, j]], 2)
    return values, gradients
