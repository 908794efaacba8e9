"""Directions of the grain: the wood axes L, R, T at any point of the limb."""

from __future__ import annotations

from typing import Any

import numpy as np

from limbfe.frames import Array
from limbfe.stave.profile import SectionShapes, shape_at
from limbfe.stave.stave import Stave


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
    base = base_axes(stave)
    psi, spiral = ring_angles(stave, shapes, y, z)
    c, s = np.cos(psi)[..., None], np.sin(psi)[..., None]
    R = c * base[:, 1] + s * base[:, 2]
    T = c * base[:, 2] - s * base[:, 1]
    c, s = np.cos(spiral)[..., None], np.sin(spiral)[..., None]
    return np.stack([c * base[:, 0] + s * T, R, c * T - s * base[:, 0]], axis=-1)


def grain_direction(stave: Stave, x: Any, y: Any, z: Any) -> Array:
    """Return the direction of the grain, the first column of `grain_axes`.

    Returns
    -------
    ndarray, shape (..., 3), or (3,) where it is the same in the whole stave
    """
    if stave.spiral == 0.0:
        direction: Array = base_axes(stave)[:, 0]
        return direction
    return grain_axes(stave, x, y, z)[..., :, 0]


def base_axes(stave: Stave) -> Array:
    """Return the wood axes, shape (3, 3), before rings, lean and spiral turn them."""
    L = np.array([1.0, np.tan(stave.sideways_grain), np.tan(stave.run_out)])
    L /= np.linalg.norm(L)
    R = np.array([0.0, 0.0, 1.0]) - L[2] * L
    R /= np.linalg.norm(R)
    return np.stack([L, R, np.cross(R, L)], axis=1)


def ring_angles(stave: Stave, shapes: SectionShapes, y: Any, z: Any) -> tuple[Array, Array]:
    """Return the turns of the wood axes about L and about R.

    Parameters
    ----------
    stave : Stave
    shapes : SectionShapes
        Sizes at the points' stations, arrays that broadcast against `y` and `z`.
    y, z : array_like, m

    Returns
    -------
    psi : ndarray, shape (...), rad
        Turn of R and T about L, from R towards T.
    spiral : ndarray, shape (...), rad
        Turn of L and T about R, from L towards T.
    """
    y, z = np.asarray(y, dtype=np.float64), np.asarray(z, dtype=np.float64)
    lean = shapes.lean
    if np.isfinite(stave.ring_radius):
        out_y = y + stave.ring_radius * np.sin(lean)
        out_z = z - 0.5 * shapes.thickness + stave.ring_radius * np.cos(lean)
        distance = np.hypot(out_y, out_z)
        far = distance > 0.0
        safe = np.where(far, distance, 1.0)
        normal_y, normal_z = np.where(far, out_y / safe, 0.0), np.where(far, out_z / safe, 1.0)
        spiral = np.arctan(np.tan(stave.spiral) * distance / stave.ring_radius)
    else:
        normal_y, normal_z = np.sin(lean), np.cos(lean)
        spiral = np.full(np.shape(lean), stave.spiral)
    base = base_axes(stave)
    psi = np.arctan2(
        normal_y * base[1, 2] + normal_z * base[2, 2],
        normal_y * base[1, 1] + normal_z * base[2, 1],
    )
    shape = np.broadcast_shapes(psi.shape, y.shape, z.shape)
    return np.broadcast_to(psi, shape), np.broadcast_to(spiral, shape)


def shapes_for(stave: Stave, x: Any, y: Any, z: Any) -> SectionShapes:
    """Return the sizes at `x` with as many axes as the broadcast points have."""
    ndim = max(np.ndim(x), np.ndim(y), np.ndim(z))
    x = np.asarray(x, dtype=np.float64)
    return shape_at(stave, x.reshape((1,) * (ndim - x.ndim) + x.shape))
