"""Frictionless contact between wood and a knot that is not grown in."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse
from scipy.linalg import solve_triangular
from scipy.optimize import nnls

from limbfe.defect.mesh import StripMesh
from limbfe.defect.strip import Ellipse, local
from limbfe.errors import ConvergenceError
from limbfe.fem.mesh import Index
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Joint:
    """Node pairs along the rims of loose knots.

    Attributes
    ----------
    wood, knot : ndarray of int, shape (c,)
        Coinciding nodes.
    normal : ndarray, shape (c, 2)
        From the knot into the wood.
    """

    wood: Index
    knot: Index
    normal: Array


def part_rims(mesh: StripMesh, numbers: tuple[int, ...]) -> tuple[StripMesh, Joint]:
    """Give the elements inside the numbered ellipses nodes of their own on the rim.

    Returns
    -------
    StripMesh
        With the doubled nodes appended.
    Joint
    """
    nodes, elements = mesh.mesh.nodes, mesh.mesh.elements.copy()
    wood: list[Index] = []
    normals: list[Array] = []
    total = len(nodes)
    for number in numbers:
        ellipse = mesh.fitted[number]
        on_rim = np.unique(mesh.rims[number])
        if ellipse is None or len(on_rim) == 0:
            continue
        twin = np.arange(len(nodes))
        twin[on_rim] = total + np.arange(len(on_rim))
        inner = mesh.mesh.region == number + 1
        elements[inner] = twin[elements[inner]]
        wood.append(on_rim)
        normals.append(_outward(ellipse, nodes[on_rim]))
        total += len(on_rim)
    wood_nodes = np.concatenate([np.zeros(0, dtype=np.intp), *wood])
    parted = replace(mesh.mesh, nodes=np.vstack([nodes, nodes[wood_nodes]]), elements=elements)
    joint = Joint(
        wood=wood_nodes,
        knot=len(nodes) + np.arange(len(wood_nodes)),
        normal=np.vstack([np.zeros((0, 2)), *normals]),
    )
    return replace(mesh, mesh=parted), joint


def _outward(ellipse: Ellipse, points: Array) -> Array:
    p = local(ellipse, points)
    steep = np.stack([p[:, 0] / ellipse.a**2, p[:, 1] / ellipse.b**2], axis=1)
    steep /= np.linalg.norm(steep, axis=1, keepdims=True)
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    normal: Array = steep @ np.array([[c, s], [-s, c]])
    return normal


def opening_operator(joint: Joint, size: int) -> sparse.csc_array:
    """Return N, shape (size, c): ``N.T @ u`` is the opening of each pair along its normal."""
    rows = np.stack([2 * joint.wood, 2 * joint.wood + 1, 2 * joint.knot, 2 * joint.knot + 1], 1)
    values = np.hstack([joint.normal, -joint.normal])
    starts = np.arange(0, rows.size + 1, 4)
    return sparse.csc_array((values.ravel(), rows.ravel(), starts), shape=(size, len(rows)))


def contact_forces(flexibility: Array, opening: Array) -> Array:
    """Return forces that keep every pair open or pressed, never pulled.

    Solves ``gap = opening + flexibility @ force``, ``gap >= 0``, ``force >= 0``,
    ``gap . force = 0``.

    Parameters
    ----------
    flexibility : ndarray, shape (c, c), symmetric positive definite
    opening : ndarray, shape (c,)
        Openings without contact.

    Raises
    ------
    ConvergenceError
        If the answer is not found or does not satisfy the conditions.

    Notes
    -----
    The conditions are those of the least energy ``f A f / 2 + f g`` over ``f >= 0``, which the
    Cholesky factor of A turns into a non-negative least squares problem; its active-set method
    ends after finitely many steps, where simpler exchanges of the active set can cycle.

    References
    ----------
    C. L. Lawson, R. J. Hanson, Solving Least Squares Problems (1974), ch. 23 (from memory).
    """
    # Scaled to a unit diagonal: pairs differ by their share of the rim.
    scale = 1.0 / np.sqrt(np.diag(flexibility))
    try:
        lower = np.linalg.cholesky(flexibility * np.outer(scale, scale))
        target = -solve_triangular(lower, opening * scale, lower=True)
        force: Array = scale * nnls(lower.T, target, maxiter=30 * len(opening))[0]
    except (np.linalg.LinAlgError, RuntimeError) as error:
        raise ConvergenceError(_UNSETTLED) from error
    gap = opening + flexibility @ force
    if gap.min() < -1e-5 * np.abs(opening).max():
        raise ConvergenceError(_UNSETTLED)
    return force


_UNSETTLED = "loose knot: the contact between knot and wood did not settle; refine the mesh there"
