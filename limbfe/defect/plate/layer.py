"""A plate looked at on a layer of its depth: samples of wood and the stress in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy import sparse

from limbfe.defect.plane import fibre_compliance
from limbfe.defect.plate.body import BodyMesh
from limbfe.defect.plate.plate import Plate
from limbfe.defect.plate.profiles import Profiles, values
from limbfe.defect.plate.strain import function_strains
from limbfe.defect.plate.wood import (
    WoodAt,
    clear_of_knots,
    faces_at,
    patch_loss,
    remaining_at,
    wood_at,
)
from limbfe.defect.recovery import Corners, Samples, lay_samples, node_means
from limbfe.fem.element import triangle6_values
from limbfe.fem.mesh import Index
from limbfe.fem.raster import Grid, grid_points, rasterise
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Raster:
    """A regular grid of points over the plane of a plate.

    Attributes
    ----------
    grid : Grid
    covered : ndarray of int, shape (w,)
        Numbers of the grid points that elements cover; the arrays below have the same length.
    points : ndarray, shape (w, 2), m
    belly, back : ndarray, shape (w,), m
    interpolation : sparse array, shape (w, pairs)
        From region nodes.
    """

    grid: Grid
    covered: Index
    points: Array
    belly: Array
    back: Array
    interpolation: sparse.csr_array


def lay_raster(meshed: BodyMesh, corners: Corners, step: float, low: Array, high: Array) -> Raster:
    """Return the points of a box, `step` apart and alike to its middle, that elements cover; m."""
    shape = np.ceil(np.round((high - low) / step, 6)).astype(int) + 1
    origin = 0.5 * (low + high) - 0.5 * step * (shape - 1)
    grid = Grid(origin=origin, step=step, shape=(int(shape[0]), int(shape[1])))
    element, reference = rasterise(meshed.mesh.mesh, grid)
    covered = np.flatnonzero(element >= 0)
    element, points = element[covered], grid_points(grid)[covered]
    shape_values = triangle6_values(reference[covered])
    faces = faces_at(meshed.body.wood, points)
    return Raster(
        grid=grid,
        covered=covered,
        points=points,
        belly=faces.belly,
        back=faces.back,
        interpolation=sparse.csr_array(
            (
                shape_values.ravel(),
                corners.number[element].ravel(),
                np.arange(0, 6 * len(points) + 1, 6),
            ),
            shape=(len(points), len(corners.node)),
        ),
    )


class Span(NamedTuple):
    """A layer: shares of the way from belly to back between which it lies."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layer:
    """Wood samples of a layer and what turns strain into stress there.

    Attributes
    ----------
    span : Span
    samples : Samples
        In the middle of the layer.
    rows : ndarray of int, shape (w,)
        Their places in the raster.
    z : ndarray, shape (w, d), m
        Points through the layer.
    weight : ndarray, shape (w, d)
        Of each in the mean over the layer's wood; rows sum to one.
    angle, dive : ndarray, shape (w, d), rad
        Of the fibre at these points: in the plane and out of it.
    stiffness : ndarray, shape (4, w, d), Pa
        Q11, Q22, Q12 and Q66 along and across the fibre as it appears in the plane.
    """

    span: Span
    samples: Samples
    rows: Index
    z: Array
    weight: Array
    angle: Array
    dive: Array
    stiffness: Array


def layer_depths(belly: Array, back: Array, span: Span, count: int) -> Array:
    """Return depths evenly through a layer, shape (p, count), m."""
    share = span.low + (span.high - span.low) * (np.arange(count) + 0.5) / count
    depths: Array = belly[:, None] + share * (back - belly)[:, None]
    return depths


def sample_layer(meshed: BodyMesh, raster: Raster, span: Span, depths: int) -> Layer:
    """Return the wood samples of a layer.

    Parameters
    ----------
    depths : int
        Points through the layer.
    """
    wood = meshed.body.wood
    middle = layer_depths(raster.belly, raster.back, span, 1)
    rows = np.flatnonzero(clear_of_knots(wood, raster.points, middle)[:, 0])
    points = raster.points[rows]
    faces = faces_at(wood, points)
    z = layer_depths(faces.belly, faces.back, span, depths)
    here = wood_at(wood, points, faces, z)
    weight = (here.inside < 0).astype(float)
    weight[weight.sum(axis=1) == 0.0] = 1.0
    weight /= weight.sum(axis=1, keepdims=True)
    mask = np.zeros(raster.grid.shape[0] * raster.grid.shape[1], dtype=bool)
    mask[raster.covered[rows]] = True
    return Layer(
        span=span,
        samples=lay_samples(raster.grid, mask),
        rows=rows,
        z=z,
        weight=weight,
        angle=here.angle,
        dive=here.dive,
        stiffness=_fibre_stiffness(meshed, here),
    )


def _fibre_stiffness(meshed: BodyMesh, here: WoodAt) -> Array:
    out = np.empty((4, *here.kind.shape))
    for kind in np.unique(here.kind):
        at = here.kind == kind
        S11, S22, S12, S66 = fibre_compliance(meshed.body.wood.woods[kind], here.dive[at])
        scale = here.E[at] / (S11 * S22 - S12 * S12)
        out[:, at] = np.stack([S22 * scale, S11 * scale, -S12 * scale, here.G[at] / S66])
    return out


def node_strains(plate: Plate, corners: Corners, displacement: Array) -> Array:
    """Return the strain of every u_k at region nodes, shape (pairs, K 3)."""
    strains = function_strains(plate, displacement)
    m, q = strains.shape[:2]
    return node_means(plate.at, corners, strains.reshape(m, q, -1))


ALL = slice(None)


def layer_stress(layer: Layer, profiles: Profiles, strains: Array, some: slice = ALL) -> Array:
    """Return the stress along, across and in shear to the fibre as it appears in the plane.

    Parameters
    ----------
    strains : ndarray, shape (all raster points, K 3)
        Of every u_k.
    some : slice
        Of the samples.

    Returns
    -------
    ndarray, shape (3, w, d), Pa
    """
    F = values(profiles, layer.z[some])[0]
    own = strains[layer.rows[some]].reshape(-1, profiles.count, 3)
    xx, yy, xy = np.einsum("kwd,wkc->cwd", F, own)
    c, s = np.cos(layer.angle[some]), np.sin(layer.angle[some])
    along = c * c * xx + s * s * yy + c * s * xy
    across = s * s * xx + c * c * yy - c * s * xy
    slide = 2.0 * c * s * (yy - xx) + (c * c - s * s) * xy
    Q11, Q22, Q12, Q66 = layer.stiffness[:, some]
    return np.stack([Q11 * along + Q12 * across, Q12 * along + Q22 * across, Q66 * slide])


def layer_mean(layer: Layer, field: Array, some: slice = ALL) -> Array:
    """Return the mean through the layer's wood of a field of shape (..., w, d) at some samples."""
    mean: Array = (field * layer.weight[some]).sum(axis=-1)
    return mean


def layer_remaining(meshed: BodyMesh, layer: Layer, *names: str) -> dict[str, Array]:
    """Return what decay leaves of properties in a layer's samples and past them, (w + e,) each."""
    left = remaining_at(meshed.body.wood, layer.samples.wood, layer.z, *names)
    means = {name: layer_mean(layer, one) for name, one in zip(names, left, strict=True)}
    return {
        name: np.clip(layer.samples.extended(one), one.min(), one.max())
        for name, one in means.items()
    }


def layer_loss(meshed: BodyMesh, span: Span, number: int, points: Array, depths: int) -> Array:
    """Return how far a patch's decay has gone at points (n, 2), mean through a layer."""
    wood = meshed.body.wood
    faces = faces_at(wood, points)
    z = layer_depths(faces.belly, faces.back, span, depths)
    gone: Array = patch_loss(wood, wood.decays[number], points, z).mean(axis=1)
    return gone
