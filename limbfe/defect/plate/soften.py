"""A plate whose belly is crushed: what is left of its stiffness, found point by point in depth.

Under given resultants an elastic plate of secant stiffness is strained as the crushed one is, if
the secants are those of the wood's law at its own strains.  They are iterated on a coarse mesh with
straight sections, since crushing spreads smoothly through a limb, and looked up there by the plate
that is judged.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from limbfe.defect.plate.body import (
    BodyMesh,
    PlateBody,
    body_plate,
    member_profiles,
    mesh_body,
    typical_moduli,
)
from limbfe.defect.plate.plate import solve_plate
from limbfe.defect.plate.profiles import values
from limbfe.defect.plate.spread import spread_along
from limbfe.defect.plate.strain import function_strains
from limbfe.defect.plate.wood import Softening
from limbfe.defect.recovery import mesh_corners, node_means
from limbfe.defect.sizes import Fineness
from limbfe.errors import ConvergenceError
from limbfe.fem.spatial import Delaunay, cKDTree
from limbfe.frames import Array

COARSE = Fineness(near=3e-3, growth=0.6, across=4.0, around=18.0, smoothing=3)
SETTLED = 5e-3
"""Change of what is left of the stiffness, of all but one per cent of the points, from which the
secants count as found."""
_LIMIT, _DEPTH = 120, 4
"""Most passes, and from how many before each is mixed."""


def mesh_softened(body: PlateBody, fineness: Fineness) -> BodyMesh:
    """Mesh a piece of limb and give its wood the stiffness that its own crushing leaves.

    Raises
    ------
    GeometryError
        If knots overlap or the mesh cannot be made.
    ConvergenceError
        If the plate cannot carry its resultants: it gives more and more.
    """
    softening = body.wood.softening
    elastic = replace(body, wood=replace(body.wood, softening=None))
    meshed = mesh_body(elastic, fineness)
    if softening is None:
        return meshed
    coarse = mesh_body(elastic, COARSE)
    own, spread = (
        _along(meshed, _looked_up(coarse, strains, meshed.points))
        for strains in _settled(coarse, softening)
    )
    left = softening(*_wood_of(meshed))(own, spread)
    return replace(meshed, here=meshed.here._replace(E=meshed.here.E * left))


def _settled(meshed: BodyMesh, softening: Softening) -> tuple[Array, Array]:
    """Return the strain of every u_k where the secants agree with it, shape (m, q, K, 3).

    And its mean over a length of limb.
    """
    moduli, intact = typical_moduli(meshed.body.wood.knots), meshed.here
    law, mean = softening(*_wood_of(meshed)), spread_along(meshed)
    m, q = meshed.at.weights.shape
    share = meshed.at.weights / meshed.at.weights.sum(axis=1, keepdims=True)
    volume = meshed.at.weights.reshape(-1, 1) * meshed.columns.weight * (intact.inside < 0)
    left = law(None, None)
    tried, gaps, history = list[Array](), list[Array](), list[float]()
    for _ in range(_LIMIT):
        softer = replace(meshed, here=intact._replace(E=intact.E * left))
        answer = solve_plate(body_plate(softer, moduli, "quick"))
        own = function_strains(answer.plate, answer.displacement @ meshed.body.resultants)
        spread = mean @ np.einsum("mq,mqkc->mkc", share, own).reshape(m, -1)
        both = (strains.reshape(m * q, -1, 3) for strains in (own, spread))
        along, beside = (_along(meshed, strains) for strains in both)
        gap = law(along, beside) - left
        history.append(float(np.quantile(np.abs(gap), 0.99)))
        if history[-1] < SETTLED:
            return own, spread.reshape(own.shape)
        tried, gaps = [*tried[-_DEPTH:], left], [*gaps[-_DEPTH:], gap]
        left = np.clip(_mixed(tried, gaps, np.sqrt(volume) * along**2), 0.3 * left, 1.0)
    raise ConvergenceError(
        "the wood round it is crushed through and cannot carry the limb's load; draw less",
        iteration=_LIMIT,
        residuals=tuple(history),
    )


def _mixed(tried: list[Array], gaps: list[Array], weight: Array) -> Array:
    """Return the next secants: where a line through the last tries has the least gap (Anderson).

    Each point weighs, `weight`, by the energy its gap stands for: alike, the many small elements at
    a knot and the points hardly strained, whose secants jump, have the say, and it takes twice the
    passes or finds no end.  Not by normal equations: the last steps are nearly alike, and squared
    they leave eight digits.
    """
    if len(tried) == 1:
        return tried[0] + gaps[0]
    steps = np.stack([(weight * (b - a)).ravel() for a, b in pairwise(gaps)], axis=1)
    share = np.linalg.lstsq(steps, (weight * gaps[-1]).ravel(), rcond=1e-5)[0]
    mixed: Array = tried[-1] + gaps[-1]
    for k, part in enumerate(share):
        mixed = mixed - part * (tried[k + 1] + gaps[k + 1] - tried[k] - gaps[k])
    return mixed


def _wood_of(meshed: BodyMesh) -> tuple[Array, Array, Array]:
    """Return what a softening is asked for: points, depths and moduli along the grain."""
    wood, here = meshed.body.wood, meshed.here
    modulus = np.array([one.E_L for one in wood.woods])[here.kind] * here.E
    return meshed.points, meshed.columns.z, modulus


def _along(meshed: BodyMesh, strains: Array) -> Array:
    """Return the strain along the fibre at the points of the columns, shape (p, n)."""
    F = values(member_profiles(meshed, "quick"), meshed.columns.z)[0]
    xx, yy, xy = np.einsum("kpn,pkc->cpn", F, strains)
    c, s = np.cos(meshed.here.angle), np.sin(meshed.here.angle)
    along: Array = c * c * xx + s * s * yy + c * s * xy
    return along


def _looked_up(meshed: BodyMesh, strains: Array, points: Array) -> Array:
    """Return the strain of every u_k of a mesh at any points, shape (p, K, 3)."""
    mesh = meshed.mesh.mesh
    corners = mesh_corners(mesh)
    m, q, K, _ = strains.shape
    nodal = node_means(meshed.at, corners, strains.reshape(m, q, -1))
    count = np.bincount(corners.node, minlength=len(mesh.nodes))
    mean = np.zeros((len(mesh.nodes), nodal.shape[1]))
    np.add.at(mean, corners.node, nodal)
    mean /= count[:, None]
    # SciPy's own interpolator on triangles takes an eighth of a second to load
    triangles = Delaunay(mesh.nodes)
    triangle = triangles.find_simplex(points)
    to_share, corner = triangles.transform[triangle, :2], triangles.transform[triangle, 2]
    share = np.einsum("pij,pj->pi", to_share, points - corner)
    share = np.concatenate([share, 1.0 - share.sum(axis=1, keepdims=True)], axis=1)
    found = np.einsum("pc,pck->pk", share, mean[triangles.simplices[triangle]])
    beyond: NDArray[np.bool_] = triangle < 0
    found[beyond] = mean[cKDTree(mesh.nodes).query(points[beyond])[1]]
    return np.asarray(found.reshape(len(points), K, 3))
