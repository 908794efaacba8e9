"""Find the element, and the place in it, of given points of a section."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from limbfe.fem.element import quad9, triangle6
from limbfe.frames import Array

_CANDIDATES = 8
_NEWTON_STEPS = 12
_REACH = 1.5  # reference coordinates a search may wander to outside an element


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
    shape = quad9 if elements.shape[1] == 9 else triangle6
    count = min(_CANDIDATES, len(elements))
    tree = cKDTree(nodes[elements].mean(axis=1))
    near = np.asarray(tree.query(points, k=np.arange(1, count + 1))[1], dtype=np.int64)
    corner = nodes[elements[near]]
    centre = 0.0 if elements.shape[1] == 9 else 1.0 / 3.0
    reference = np.full((*near.shape, 2), centre)
    for _ in range(_NEWTON_STEPS):
        values, gradients = shape(reference.reshape(-1, 2))
        values = values.reshape(*near.shape, -1)
        gap = points[:, None] - np.einsum("pck,pckd->pcd", values, corner)
        jacobian = np.einsum("pckr,pckd->pcdr", gradients.reshape(*near.shape, -1, 2), corner)
        step = _solve_2x2(jacobian, gap)
        reference = np.clip(reference + step, -_REACH, _REACH)
    miss = np.linalg.norm(gap, axis=-1) / np.sqrt(np.abs(np.linalg.det(jacobian)) + 1e-300)
    outside = _outside(reference, elements.shape[1]) + np.minimum(miss, 10.0)
    best = outside.argmin(axis=1)
    rows = np.arange(len(points))
    return near[rows, best], reference[rows, best]


def _solve_2x2(matrix: Array, right: Array) -> Array:
    a, b, c, d = matrix[..., 0, 0], matrix[..., 0, 1], matrix[..., 1, 0], matrix[..., 1, 1]
    determinant = a * d - b * c
    tiny = 1e-12 * (a * a + b * b + c * c + d * d)
    determinant = np.where(np.abs(determinant) < tiny, tiny, determinant)
    x = (d * right[..., 0] - b * right[..., 1]) / determinant
    y = (a * right[..., 1] - c * right[..., 0]) / determinant
    return np.clip(np.stack([x, y], axis=-1), -1.0, 1.0)


def _outside(reference: Array, nodes_per_element: int) -> Array:
    r, s = reference[..., 0], reference[..., 1]
    if nodes_per_element == 9:
        beyond = np.maximum(np.abs(r), np.abs(s)) - 1.0
    else:
        beyond = np.maximum(np.maximum(-r, -s), r + s - 1.0)
    return np.maximum(beyond, 0.0)
