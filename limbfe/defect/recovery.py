"""Smooth strain and stress from a solved strip, at nodes and on a sampling grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from limbfe.defect.limb_state import LimbStrain, limb_strain, limb_stress
from limbfe.defect.plane import plane_stiffness
from limbfe.defect.strip_solve import StripSolution
from limbfe.defect.submodel import StripModel
from limbfe.defect.zone import fibre_at, remaining
from limbfe.fem.element import triangle6_values
from limbfe.fem.mesh import Index
from limbfe.fem.quadrature import triangle_rule
from limbfe.fem.raster import Grid, grid_points, rasterise
from limbfe.frames import Array

NODE_AT = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.5, 0.0], [0.5, 0.5], [0.0, 0.5]])
"""Reference coordinates of the six nodes."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Corners:
    """Nodes told apart by the region they are seen from, so that strain may jump at a rim.

    Attributes
    ----------
    number : ndarray of int, shape (m, 6)
        Number of each element node among the distinct (region, node) pairs.
    node, region : ndarray of int, shape (pairs,)
    """

    number: Index
    node: Index
    region: Index


def corners_of(model: StripModel) -> Corners:
    """Return the distinct (region, node) pairs of a model."""
    elements, region = model.mesh.mesh.elements, model.mesh.mesh.region
    size = len(model.mesh.mesh.nodes)
    keys = region[:, None] * size + elements
    pairs, number = np.unique(keys, return_inverse=True)
    part, node = np.divmod(pairs, size)
    return Corners(number=number.reshape(elements.shape), node=node, region=part)


def departure_strain(solution: StripSolution, corners: Corners) -> Array:
    """Return the strain on top of the limb's own at region nodes, shape (pairs, 3).

    Each element's strain is fitted linearly to its quadrature points, carried to its nodes, and
    averaged there over the elements of the same region, weighted by area.
    """
    model = solution.model
    reference, _ = triangle_rule(4)
    fit = _line_terms(NODE_AT) @ np.linalg.pinv(_line_terms(reference))
    at_nodes = np.einsum("nq,mqc->mnc", fit, solution.departure_strain)
    area = model.at.weights.sum(axis=1)
    weight = np.repeat(area, 6)
    where = corners.number.ravel()
    count = len(corners.node)
    total = np.bincount(where, weights=weight, minlength=count)
    sums = [
        np.bincount(where, weights=weight * at_nodes[..., k].ravel(), minlength=count)
        for k in range(3)
    ]
    mean: Array = np.stack(sums, axis=1) / total[:, None]
    return mean


def _line_terms(points: Array) -> Array:
    return np.column_stack([np.ones(len(points)), points])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """Wood points on a regular grid, with what turns nodal strain into stress there.

    Attributes
    ----------
    grid : Grid
    wood : ndarray of bool, shape (p,)
        Grid points covered by wood, decayed or not.
    number : ndarray of int, shape ((nx + 1) * (ny + 1),)
        Number of each grid point among the wood points, -1 for others; the grid has one row and
        one column more here, so that the cell of every point has four corners.
    points : ndarray, shape (w, 2), m
        Those points only; the arrays below have the same length.
    interpolation : sparse array, shape (w, pairs)
        From region nodes.
    stiffness : ndarray, shape (w, 3, 3), Pa
    angle, dive : ndarray, shape (w,), rad
        Fibre direction.
    """

    grid: Grid
    wood: NDArray[np.bool_]
    number: NDArray[np.int32]
    points: Array
    interpolation: sparse.csr_array
    stiffness: Array
    angle: Array
    dive: Array


def sample_wood(
    model: StripModel, corners: Corners, step: float, low: Array, high: Array
) -> Samples:
    """Return the wood points of a box, `step` apart.

    Parameters
    ----------
    step : float, m
    low, high : ndarray, shape (2,), m
        Opposite corners of the box.
    """
    shape = np.ceil((high - low) / step).astype(int) + 1
    grid = Grid(origin=np.asarray(low), step=step, shape=(int(shape[0]), int(shape[1])))
    element, reference = rasterise(model.mesh.mesh, grid)
    wood = element >= 0
    wood[wood] = model.inside[element[wood]] < 0
    element, reference = element[wood], reference[wood]
    points = grid_points(grid)[wood]
    values = triangle6_values(reference)
    interpolation = sparse.csr_array(
        (
            values.ravel(),
            corners.number[element].ravel(),
            np.arange(0, 6 * len(points) + 1, 6),
        ),
        shape=(len(points), len(corners.node)),
    )
    angle, dive = fibre_at(points, model.knots, model.grain)
    stiffness = plane_stiffness(
        model.wood,
        angle,
        dive,
        remaining(model.decays, points, "E"),
        remaining(model.decays, points, "G"),
    )
    return Samples(
        grid=grid,
        wood=wood,
        number=_numbers(grid, wood),
        points=points,
        interpolation=interpolation,
        stiffness=stiffness,
        angle=angle,
        dive=dive,
    )


def _numbers(grid: Grid, wood: NDArray[np.bool_]) -> NDArray[np.int32]:
    table = np.full((grid.shape[0] + 1, grid.shape[1] + 1), -1, dtype=np.int32)
    inner = table[:-1, :-1]
    inner[wood.reshape(grid.shape)] = np.arange(np.count_nonzero(wood))
    return table.ravel()


def sampled_stress(
    samples: Samples,
    solution: StripSolution,
    corners: Corners,
    strain: LimbStrain,
    own: Array | None = None,
) -> Array:
    """Return the total stress at the wood points, shape (w, 3), Pa, strip axes.

    Parameters
    ----------
    own : ndarray, shape (w, 3), Pa, optional
        `sampled_limb_stress`, where it is known already.
    """
    if own is None:
        own = sampled_limb_stress(samples, solution.model, strain)
    total = limb_strain(solution.model.wood, solution.model.grain, own)
    total = total + samples.interpolation @ departure_strain(solution, corners)
    stress: Array = np.einsum("pij,pj->pi", samples.stiffness, total)
    return stress


def sampled_limb_stress(samples: Samples, model: StripModel, strain: LimbStrain) -> Array:
    """Return the sound limb's own stress at the wood points, shape (w, 3), Pa, strip axes."""
    return limb_stress(model.strip, model.wood, model.grain, strain, samples.points)


def nodal_stress(solution: StripSolution, corners: Corners, strain: LimbStrain) -> Array:
    """Return the total stress at region nodes, shape (pairs, 3), Pa, strip axes.

    Fit for pictures: index it with ``corners.number`` for values that jump at rims.
    """
    model = solution.model
    points = model.mesh.mesh.nodes[corners.node]
    own = limb_stress(model.strip, model.wood, model.grain, strain, points)
    total = limb_strain(model.wood, model.grain, own) + departure_strain(solution, corners)
    angle, dive = fibre_at(points, model.knots, model.grain)
    stiffness = plane_stiffness(
        model.wood,
        angle,
        dive,
        remaining(model.decays, points, "E"),
        remaining(model.decays, points, "G"),
    )
    for number, inner in enumerate(solution.knot_stiffness):
        stiffness[corners.region == number + 1] = inner
    stress: Array = np.einsum("pij,pj->pi", stiffness, total)
    return stress
