"""Frictionless contact between wood and a knot that is not grown in."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

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


def opening_operator(joint: Joint, size: int) -> Array:
    """Return N, shape (size, c): ``N.T @ u`` is the opening of each pair along its normal."""
    out = np.zeros((size, len(joint.wood)))
    column = np.arange(len(joint.wood))
    for d in range(2):
        out[2 * joint.wood + d, column] = joint.normal[:, d]
        out[2 * joint.knot + d, column] = -joint.normal[:, d]
    return out


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
        If the active set does not settle.

    References
    ----------
    M. Hintermueller, K. Ito, K. Kunisch, The primal-dual active set strategy as a semismooth
    Newton method, SIAM Journal on Optimization 13 (2002), 865-888 (from memory).
    """
    scale = np.diag(flexibility)
    force = np.zeros(len(opening))
    gap = opening.copy()
    history: list[float] = []
    active = gap < 0.0
    for _ in range(60):
        force = np.zeros(len(opening))
        if active.any():
            block = flexibility[np.ix_(active, active)]
            force[active] = np.linalg.solve(block, -opening[active])
        gap = opening + flexibility @ force
        gap[active] = 0.0
        fresh = force - gap / scale > 0.0
        history.append(float(np.count_nonzero(fresh != active)))
        if history[-1] == 0.0:
            return force
        active = fresh
    raise ConvergenceError(
        "loose knot: the contact between knot and wood did not settle; refine the mesh there",
        iteration=len(history),
        residuals=tuple(history),
    )
