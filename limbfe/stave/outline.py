"""Boundaries of the cross-section: back, belly, sides, sapwood and backing.

Section coordinates: origin at mid-thickness and mid-width, y to the archer's right, z from belly
to back, so that the middle of the back lies at z = +thickness/2.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.stave.profile import SectionShapes


def back_z(shapes: SectionShapes, y: Any) -> Array:
    """Return z of the back.

    Parameters
    ----------
    shapes : SectionShapes
        With arrays of shape (S,).
    y : array_like, shape (S, ...), m
        Beyond the edges the height of the edge is kept.

    Returns
    -------
    ndarray, shape of `y`, m
    """
    y = np.asarray(y, dtype=np.float64)
    half = 0.5 * _fit(shapes.width, y)
    return 0.5 * _fit(shapes.thickness, y) - _arch(shapes, np.clip(y, -half, half), 0.0)


def belly_z(shapes: SectionShapes, y: Any) -> Array:
    """Return z of the belly.

    A round belly is half an ellipse hung from the back's two edges; a cornered one is flat with
    two quarter circles.

    Parameters
    ----------
    shapes : SectionShapes
        With arrays of shape (S,).
    y : array_like, shape (S, ...), m
        Beyond the edges the height of the edge is kept.

    Returns
    -------
    ndarray, shape of `y`, m
    """
    y = np.asarray(y, dtype=np.float64)
    bottom = -0.5 * _fit(shapes.thickness, y)
    half = 0.5 * _fit(shapes.width, y)
    out = np.minimum(np.abs(y), half)
    if shapes.belly == "round":
        top = _fit(edge_z(shapes), y)
        bottom = top - (top - bottom) * np.sqrt(1.0 - (out / half) ** 2)
    elif shapes.belly == "corner":
        c = shapes.belly_corner
        into = np.maximum(out - (half - c), 0.0)
        bottom = bottom + c - np.sqrt(np.maximum(c * c - into * into, 0.0))
    result: Array = bottom + 0.0 * y
    return result


def edge_z(shapes: SectionShapes) -> Array:
    """Return z of the back's two edges, shape (S,), m."""
    return 0.5 * shapes.thickness - _arch(shapes, 0.5 * shapes.width, 0.0)


def backing_z(shapes: SectionShapes, y: Any) -> Array:
    """Return z of the underside of the backing: the back moved inward by its thickness.

    Parameters
    ----------
    shapes : SectionShapes
        With arrays of shape (S,).
    y : array_like, shape (S, ...), m

    Returns
    -------
    ndarray, shape of `y`, m
        Not cut off at the belly.  Where an arched back is so steep that no point lies deeper than
        the backing, the bottom of the section.
    """
    y = np.asarray(y, dtype=np.float64)
    return _parallel_z(shapes, y, _fit(shapes.backing, y))


def sapwood_z(shapes: SectionShapes, y: Any) -> Array:
    """Return z of the boundary between sapwood and heartwood.

    The back (or the backing's underside) moved inward by the sapwood's depth, then tilted by the
    lean of the rings so that the sapwood is thicker at +y.  Equal to `backing_z` where there is no
    sapwood.

    Parameters
    ----------
    shapes : SectionShapes
        With arrays of shape (S,).
    y : array_like, shape (S, ...), m

    Returns
    -------
    ndarray, shape of `y`, m
        Never above `backing_z`; not cut off at the belly, where it lies below the belly there is
        no heartwood.
    """
    y = np.asarray(y, dtype=np.float64)
    backing, sapwood = _fit(shapes.backing, y), _fit(shapes.sapwood, y)
    upper = _parallel_z(shapes, y, backing)
    lower = _parallel_z(shapes, y, backing + sapwood) - np.tan(_fit(shapes.lean, y)) * y
    return np.where(sapwood > 0.0, np.minimum(lower, upper), upper)


def side_y(shapes: SectionShapes, z: Any) -> Array:
    """Return the half width of the outline at height z.

    Parameters
    ----------
    shapes : SectionShapes
        With arrays of shape (S,).
    z : array_like, shape (S, ...), m
        Above the back or below the belly the nearest height of the outline is used.

    Returns
    -------
    ndarray, shape of `z`, m
    """
    z = np.asarray(z, dtype=np.float64)
    half, top = 0.5 * _fit(shapes.width, z), 0.5 * _fit(shapes.thickness, z)
    z = np.clip(z, -top, top)
    edge = _fit(edge_z(shapes), z)
    out = half + 0.0 * z
    if shapes.belly == "round":
        depth = np.clip((edge - z) / (edge + top), 0.0, 1.0)
        out = half * np.sqrt(1.0 - depth**2)
    elif shapes.belly == "corner":
        c = shapes.belly_corner
        below = np.maximum(c - (z + top), 0.0)
        out = half - c + np.sqrt(np.maximum(c * c - below * below, 0.0))
    crown = _fit(shapes.crown, z)
    arched = np.isfinite(crown)
    radius = np.where(arched, crown, 0.0)
    drop = np.minimum(top - z, radius)
    out = np.where(arched & (z > edge), np.sqrt(drop * (2.0 * radius - drop)), out)
    result: Array = out
    return result


def inside_outline(shapes: SectionShapes, y: Any, z: Any) -> NDArray[np.bool_]:
    """Return which points lie in the section.

    Parameters
    ----------
    shapes : SectionShapes
        With arrays of shape (S,).
    y, z : array_like, shape (S, ...), m
    """
    y, z = np.broadcast_arrays(np.asarray(y, dtype=np.float64), np.asarray(z, dtype=np.float64))
    within = np.abs(y) <= 0.5 * _fit(shapes.width, y)
    inside: NDArray[np.bool_] = within & (z <= back_z(shapes, y)) & (z >= belly_z(shapes, y))
    return inside


def _fit(values: Array, like: Array) -> Array:
    """Return per-station values shaped to broadcast against an array whose first axes they are."""
    if np.ndim(values) >= like.ndim:
        return values
    return values.reshape(values.shape + (1,) * (like.ndim - values.ndim))


def _arch(shapes: SectionShapes, y: Array, depth: Array | float) -> Array:
    """Return how far the arc `depth` below a crowned back has dropped at y (0 for a flat back)."""
    radius = _fit(shapes.crown, y) - depth
    r = np.where(np.isfinite(radius), radius, 0.0)
    arc = r - np.sqrt(np.maximum(r * r - y * y, 0.0))
    return np.where(np.isfinite(radius), arc, 0.0)


def _parallel_z(shapes: SectionShapes, y: Array, depth: Array) -> Array:
    """Return z of the curve parallel to the back at `depth` below it."""
    half, top = 0.5 * _fit(shapes.width, y), 0.5 * _fit(shapes.thickness, y)
    y = np.clip(y, -half, half)
    z = top - depth - _arch(shapes, y, depth)
    return np.where(np.abs(y) >= _fit(shapes.crown, y) - depth, np.minimum(z, -top), z)
