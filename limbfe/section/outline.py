"""The four sides of a limb's cross-section as curves, for all stations at once.

The outline is cut into four sides at its two back edges and at two belly corners, so that a
square can be mapped onto it.  A flat belly has real corners; on a round belly or a rounded
corner the cut is made half-way round the curve.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import GeometryError
from limbfe.frames import Array
from limbfe.stave.profile import SectionShapes

_HALF_WAY = np.pi / 4.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """Half width, edge and belly of S sections, all shapes (S, 1).

    Attributes
    ----------
    half : ndarray, m
        Half the width.
    top : ndarray, m
        z of the back at mid-width.
    edge : ndarray, m
        z of the two back edges.
    bottom : ndarray, m
        z of the belly at mid-width.
    crown : float
        Radius of the back, inf when flat.
    belly : str
    corner : float
        Radius of the belly corners.
    """

    half: Array
    top: Array
    edge: Array
    bottom: Array
    crown: float
    belly: str
    corner: float


def section_outline(shapes: SectionShapes) -> Outline:
    """Return the outline of every station, refused where it collapses.

    Raises
    ------
    GeometryError
        Naming the station: a width or thickness that is not positive, a crown tighter than half
        the width or deeper than the thickness, or belly corners too big for the section.
    """
    half, thickness = np.asarray(shapes.width) / 2.0, np.asarray(shapes.thickness)
    crown = float(shapes.crown)
    _refuse(shapes, ~(np.isfinite(half) & (half > 0.0)), "width", "make it positive")
    _refuse(shapes, ~(np.isfinite(thickness) & (thickness > 0.0)), "thickness", "make it positive")
    _refuse(shapes, half > crown, "back's crown radius below half the width", "flatten the crown")
    if np.isfinite(crown):
        sagitta = half**2 / (crown + np.sqrt(crown**2 - half**2))
    else:
        sagitta = np.zeros_like(half)
    depth = thickness - sagitta
    _refuse(
        shapes,
        depth <= 1e-3 * thickness,
        "back so crowned that the edges have no thickness",
        "flatten the crown or thicken the limb",
    )
    corner = float(shapes.belly_corner) if shapes.belly == "corner" else 0.0
    _refuse(
        shapes,
        corner > np.minimum(half, depth),
        "belly corner radius above half the width or the edge's thickness",
        "shrink the belly corner",
    )
    return Outline(
        half=half[:, None],
        top=thickness[:, None] / 2.0,
        edge=(thickness / 2.0 - sagitta)[:, None],
        bottom=-thickness[:, None] / 2.0,
        crown=crown,
        belly=shapes.belly,
        corner=corner,
    )


def _refuse(shapes: SectionShapes, bad: NDArray[np.bool_], what: str, remedy: str) -> None:
    if np.any(bad):
        s = int(np.argmax(bad))
        raise GeometryError(
            f"section at x = {1e3 * shapes.x[s]:.6g} mm (width {1e3 * shapes.width[s]:.6g} mm, "
            f"thickness {1e3 * shapes.thickness[s]:.6g} mm): {what}; {remedy}"
        )


def back_curve(outline: Outline, fraction: Array) -> Array:
    """Return points of the back, shape (S, n, 2), at `fraction` (n,) of the width from -y."""
    y = outline.half * (2.0 * fraction - 1.0)
    if np.isinf(outline.crown):
        return _points(y, np.broadcast_to(outline.top, y.shape))
    return _points(y, outline.top - y**2 / (outline.crown + np.sqrt(outline.crown**2 - y**2)))


def belly_curve(outline: Outline, fraction: Array) -> Array:
    """Return points of the belly between its corners, shape (S, n, 2), from -y to +y."""
    if outline.belly == "round":
        angle = _HALF_WAY + fraction * (np.pi - 2.0 * _HALF_WAY)
        return _ellipse(outline, angle)
    if outline.corner == 0.0:
        y = outline.half * (2.0 * fraction - 1.0)
        return _points(y, np.broadcast_to(outline.bottom, y.shape))
    return _rounded_belly(outline, fraction)


def side_curve(outline: Outline, fraction: Array) -> Array:
    """Return points of the -y side from the belly corner up, shape (S, n, 2).

    The +y side is its mirror image.
    """
    if outline.belly == "round":
        return _ellipse(outline, _HALF_WAY * (1.0 - fraction))
    if outline.corner == 0.0:
        z = outline.bottom + fraction * (outline.edge - outline.bottom)
        return _points(np.broadcast_to(-outline.half, z.shape), z)
    return _rounded_side(outline, fraction)


# Shares of a rounded belly's side and belly that its corner takes in the mapping.
ROUNDED_SIDE_SHARE = 0.25
ROUNDED_BELLY_SHARE = 0.125


def _rounded_belly(outline: Outline, fraction: Array) -> Array:
    near = np.minimum(fraction, 1.0 - fraction)
    turn = np.minimum(near / ROUNDED_BELLY_SHARE, 1.0) * _HALF_WAY + _HALF_WAY
    along = np.clip((fraction - ROUNDED_BELLY_SHARE) / (1.0 - 2.0 * ROUNDED_BELLY_SHARE), 0.0, 1.0)
    r = outline.corner
    flat = outline.half - r
    y = flat * (2.0 * along - 1.0) - np.sign(0.5 - fraction) * r * np.cos(turn)
    return _points(y, outline.bottom + r * (1.0 - np.sin(turn)))


def _rounded_side(outline: Outline, fraction: Array) -> Array:
    r = outline.corner
    turn = _HALF_WAY * (1.0 - np.minimum(fraction / ROUNDED_SIDE_SHARE, 1.0))
    up = np.maximum(fraction - ROUNDED_SIDE_SHARE, 0.0) / (1.0 - ROUNDED_SIDE_SHARE)
    z = outline.bottom + r * (1.0 - np.sin(turn)) + up * (outline.edge - outline.bottom - r)
    return _points(-outline.half + r * (1.0 - np.cos(turn)), z)


def _ellipse(outline: Outline, angle: Array) -> Array:
    depth = outline.edge - outline.bottom
    return _points(-outline.half * np.cos(angle), outline.edge - depth * np.sin(angle))


def _points(y: Array, z: Array) -> Array:
    return np.stack(np.broadcast_arrays(y, z), axis=-1)
