"""Find the element, and the place in it, of given points of a section."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from limbfe.fem.element import quad9, triangle6
from limbfe.frames import Array

_NEWTON_STEPS = 15
# A node box is stretched by this share of its size, because a curved edge can bulge out of it.
_BULGE = 0.15
_FURTHEST = 1.5  # reference coordinates a search may reach


def locate(
    nodes: Array, elements: NDArray[np.int64], points: Array
) -> tuple[NDArray[np.int64], Array]:
    """Return for each point its element and its reference coordinates there.

    Parameters
    ----------
    nodes : ndarray, shape (n, 2)
    elements : ndarray of int, shape (m, k)
    points : ndarray, shape (p, 2)

    Returns
    -------
    element : ndarray of int, shape (p,)
    reference : ndarray, shape (p, 2)
        A point outside the mesh gets the element it is least outside of.
    """
    corners = nodes[elements]
    point, element = _candidates(corners, points)
    reference, miss = _invert(corners[element], points[point])
    # A search that did not arrive counts as far outside as it missed.
    outside = _outside(reference, elements.shape[1]) + miss
    order = np.lexsort((outside, point))
    first = order[np.searchsorted(point[order], np.arange(len(points)))]
    return element[first], reference[first]


def _candidates(corners: Array, points: Array) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return (point, element) pairs to try; every point gets at least one."""
    low, high = corners.min(axis=1), corners.max(axis=1)
    reach = _BULGE * (high - low).max(axis=1, keepdims=True)
    inside = np.ones((len(points), len(corners)), dtype=np.bool_)
    gap = np.zeros(inside.shape)
    for axis in range(2):
        x = points[:, axis, None]
        below, above = low[:, axis] - x, x - high[:, axis]
        inside &= (below <= reach[:, 0]) & (above <= reach[:, 0])
        gap += np.maximum(np.maximum(below, above), 0.0) ** 2
    lost = np.flatnonzero(~inside.any(axis=1))
    inside[lost, gap[lost].argmin(axis=1)] = True
    point, element = np.nonzero(inside)
    return point, element


def _invert(corners: Array, points: Array) -> tuple[Array, Array]:
    """Return reference coordinates, and by how much the search missed in the same measure."""
    square = corners.shape[1] == 9
    shape = quad9 if square else triangle6
    reference = np.full((len(points), 2), 0.0 if square else 1.0 / 3.0)
    for _ in range(_NEWTON_STEPS):
        values, gradients = shape(reference)
        gap = points - np.einsum("pk,pkd->pd", values, corners)
        jacobian = np.einsum("pkr,pkd->pdr", gradients, corners)
        step = _solve_2x2(jacobian, gap)
        reference = np.clip(reference + step, -_FURTHEST, _FURTHEST)
    miss: Array = np.abs(step).max(axis=1)
    return reference, miss


def _solve_2x2(matrix: Array, right: Array) -> Array:
    a, b, c, d = matrix[:, 0, 0], matrix[:, 0, 1], matrix[:, 1, 0], matrix[:, 1, 1]
    determinant = a * d - b * c
    # Outside a distorted element the map can lose its slope: step on, at most one element.
    tiny = 1e-9 * (a * a + b * b + c * c + d * d)
    determinant = np.where(np.abs(determinant) < tiny, tiny, determinant)
    x = (d * right[:, 0] - b * right[:, 1]) / determinant
    y = (a * right[:, 1] - c * right[:, 0]) / determinant
    return np.clip(np.stack([x, y], axis=1), -1.0, 1.0)


def _outside(reference: Array, nodes_per_element: int) -> Array:
    r, s = reference[:, 0], reference[:, 1]
    if nodes_per_element == 9:
        beyond = np.maximum(np.abs(r), np.abs(s)) - 1.0
    else:
        beyond = np.maximum(np.maximum(-r, -s), r + s - 1.0)
    return np.maximum(beyond, 0.0)
