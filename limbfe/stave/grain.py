"""Directions of the grain: the wood axes L, R, T at any point of the limb."""

from __future__ import annotations

from typing import Any

import numpy as np

from limbfe.frames import Array
from limbfe.stave.profile import SectionShapes, grain_at, shape_at
from limbfe.stave.stave import Grain, Stave


def grain_axes(stave: Stave, x: Any, y: Any, z: Any) -> Array:
    """Return the wood axes in section axes.

    Parameters
    ----------
    stave : Stave
    x, y, z : array_like, m, section coordinates
        Broadcast against each other.

    Returns
    -------
    ndarray, shape (..., 3, 3)
        Orthonormal; columns L, R, T.  Straight grain gives L = x, R = z (towards the back), T = y,
        a left-handed triad, which orthotropic wood cannot tell from a right-handed one.

    Notes
    -----
    L is first laid along ``(1, tan(sideways_grain), tan(run_out))``.  R is the ring's outward
    normal, made square to L: turned by `lean`, and with a finite `ring_radius` pointing away from
    the pith, which lies that far below the middle of the back along the leaning normal.  Last, L
    and T turn about R by the spiral angle; around a pith its tangent is in proportion to the
    distance from it (fibres as helices of one pitch).  A swirl round a knot is not included.
    """
    shapes = shapes_for(stave, x, y, z)
    grain = grain_at(stave, shapes.x)
    psi, spiral = ring_angles(shapes, grain, y, z)
    base = base_axes(grain)
    c, s = np.cos(psi)[..., None], np.sin(psi)[..., None]
    R = c * base[..., 1] + s * base[..., 2]
    T = c * base[..., 2] - s * base[..., 1]
    c, s = np.cos(spiral)[..., None], np.sin(spiral)[..., None]
    return np.stack([c * base[..., 0] + s * T, R, c * T - s * base[..., 0]], axis=-1)


def fibre_axes(stave: Stave, x: Any, y: Any, z: Any) -> Array:
    """Return wood axes of which only L is right: R and T may be turned about it by any angle.

    Returns
    -------
    ndarray, shape (..., 3, 3), or (3, 3) where they are the same in the whole stave
        `grain_axes`, without the turns by the rings where nothing else varies.
    """
    grain = stave.grain
    if np.any(grain.spiral != 0.0):
        return grain_axes(stave, x, y, z)
    if np.ptp(grain.run_out) == 0.0 and np.ptp(grain.sideways_grain) == 0.0:
        return base_axes(grain_at(stave, 0.0))
    shape = np.broadcast_shapes(np.shape(x), np.shape(y), np.shape(z))
    base = base_axes(grain_at(stave, shapes_for(stave, x, y, z).x))
    return np.broadcast_to(base, (*shape, 3, 3))


def grain_direction(stave: Stave, x: Any, y: Any, z: Any) -> Array:
    """Return the direction of the grain, the first column of `grain_axes`.

    Returns
    -------
    ndarray, shape (..., 3), or (3,) where it is the same in the whole stave
    """
    direction: Array = fibre_axes(stave, x, y, z)[..., :, 0]
    return direction


def base_axes(grain: Grain) -> Array:
    """Return the wood axes, shape (..., 3, 3), before rings, lean and spiral turn them."""
    one = np.ones(np.shape(grain.run_out))
    L = np.stack([one, np.tan(grain.sideways_grain), np.tan(grain.run_out)], axis=-1)
    L /= np.linalg.norm(L, axis=-1, keepdims=True)
    R = np.array([0.0, 0.0, 1.0]) - L[..., 2, None] * L
    R /= np.linalg.norm(R, axis=-1, keepdims=True)
    return np.stack([L, R, np.cross(R, L)], axis=-1)


def ring_angles(shapes: SectionShapes, grain: Grain, y: Any, z: Any) -> tuple[Array, Array]:
    """Return the turns of the wood axes about L and about R.

    Parameters
    ----------
    shapes : SectionShapes
    grain : Grain
        At the points' stations, arrays that broadcast against `y` and `z`.
    y, z : array_like, m

    Returns
    -------
    psi : ndarray, shape (...), rad
        Turn of R and T about L, from R towards T.
    spiral : ndarray, shape (...), rad
        Turn of L and T about R, from L towards T.
    """
    y, z = np.asarray(y, dtype=np.float64), np.asarray(z, dtype=np.float64)
    if np.all(np.isfinite(grain.ring_radius)):
        out_y, out_z = from_pith(shapes, grain, y, z)
        distance = np.hypot(out_y, out_z)
        far = distance > 0.0
        safe = np.where(far, distance, 1.0)
        normal_y, normal_z = np.where(far, out_y / safe, 0.0), np.where(far, out_z / safe, 1.0)
        spiral = np.arctan(np.tan(grain.spiral) * distance / grain.ring_radius)
    else:
        normal_y, normal_z = np.sin(shapes.lean), np.cos(shapes.lean)
        spiral = grain.spiral
    base = base_axes(grain)
    psi = np.arctan2(
        normal_y * base[..., 1, 2] + normal_z * base[..., 2, 2],
        normal_y * base[..., 1, 1] + normal_z * base[..., 2, 1],
    )
    shape = np.broadcast_shapes(psi.shape, y.shape, z.shape)
    return np.broadcast_to(psi, shape), np.broadcast_to(spiral, shape)


def from_pith(shapes: SectionShapes, grain: Grain, y: Any, z: Any) -> tuple[Array, Array]:
    """Return how far points lie from the pith at their stations, along y and along z, m.

    The pith lies `ring_radius` below the middle of the back along the leaning normal of the rings:
    along the limb it is a curve.
    """
    across, down = np.sin(shapes.lean), np.cos(shapes.lean)
    out_y: Array = y + grain.ring_radius * across
    out_z: Array = z - 0.5 * shapes.thickness + grain.ring_radius * down
    return out_y, out_z


def same_everywhere(stave: Stave) -> bool:
    """Return whether the wood axes are the same in the whole stave."""
    grain = stave.grain
    rings = np.isfinite(grain.ring_radius).any() or np.any(stave.lean != 0.0)
    slopes = (grain.run_out, grain.sideways_grain, grain.spiral)
    return not rings and all(np.ptp(slope) == 0.0 for slope in slopes)


def shapes_for(stave: Stave, x: Any, y: Any, z: Any) -> SectionShapes:
    """Return the sizes at `x` with as many axes as the broadcast points have."""
    ndim = max(np.ndim(x), np.ndim(y), np.ndim(z))
    x = np.asarray(x, dtype=np.float64)
    return shape_at(stave, x.reshape((1,) * (ndim - x.ndim) + x.shape))
