"""The four sides of a limb's cross-section as curves, for all stations at once.

The outline is cut into four sides at its two back edges and at two belly corners, so that a
square can be mapped onto it.  A flat belly has real corners; on a round belly or a rounded
corner the cut is made half-way round the curve.  Each side is run through by a fraction from 0 to
1, in proportion to length where it has an arc and a straight part.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import GeometryError
from limbfe.frames import Array
from limbfe.stave.profile import SectionShapes
from limbfe.stave.stave import sagitta
from limbfe.units import both_lengths

_HALF_WAY = np.pi / 4.0
_NO_LENGTH = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """Sizes of S outlines, all of shape (S, 1) unless said otherwise.

    Attributes
    ----------
    half : ndarray, m
        Half the width.
    top, edge, bottom : ndarray, m
        z of the back at mid-width, of the back's edges, of the belly at mid-width.
    crown : float, m
        Radius of the back, inf when flat.
    round_belly : bool
    corner : float, m
        Radius of the belly corners, 0 for none.
    belly_share : ndarray
        Fraction of the belly curve that each rounded corner takes; 0 for none.
    side_share : ndarray
        Fraction of the side curve that the rounded corner takes; 0 for none.
    """

    half: Array
    top: Array
    edge: Array
    bottom: Array
    crown: Array
    round_belly: bool
    corner: float
    belly_share: Array
    side_share: Array


def section_outline(shapes: SectionShapes) -> Outline:
    """Return the outline of every station, refused where it collapses.

    Raises
    ------
    GeometryError
        Naming the station: a width or thickness that is not positive, a crown tighter than half
        the width or deeper than the thickness, or belly corners too big for the section.
    """
    half, thickness = 0.5 * shapes.width, np.asarray(shapes.thickness)
    crown = shapes.crown
    _refuse(shapes, ~(np.isfinite(half) & (half > 0.0)), "width", "make it positive")
    _refuse(shapes, ~(np.isfinite(thickness) & (thickness > 0.0)), "thickness", "make it positive")
    _refuse(shapes, ~(half <= crown), "the back's radius is below half the width", "widen it")
    depth = thickness - sagitta(crown, half)
    _refuse(
        shapes,
        depth <= 1e-3 * thickness,
        "the back is so crowned that its edges have no thickness",
        "use a larger crown radius or a thicker limb",
    )
    corner = float(shapes.belly_corner) if shapes.belly == "corner" else 0.0
    _refuse(
        shapes,
        ~((corner >= 0.0) & (corner <= np.minimum(half, depth))),
        f"the belly corner's radius, {both_lengths(corner)}, is above half the width or the "
        "edge's thickness",
        "make it smaller",
    )
    arc = corner * _HALF_WAY
    return Outline(
        half=half[:, None],
        top=0.5 * thickness[:, None],
        edge=(depth - 0.5 * thickness)[:, None],
        bottom=-0.5 * thickness[:, None],
        crown=crown[:, None],
        round_belly=shapes.belly == "round",
        corner=corner,
        belly_share=(arc / (2.0 * (arc + half - corner)))[:, None],
        side_share=(arc / (arc + depth - corner))[:, None],
    )


def _refuse(shapes: SectionShapes, bad: NDArray[np.bool_], what: str, remedy: str) -> None:
    if np.any(bad):
        s = int(np.argmax(bad))
        raise GeometryError(
            f"section at x = {both_lengths(shapes.x[s])} (width {both_lengths(shapes.width[s])}, "
            f"thickness {both_lengths(shapes.thickness[s])}): {what}; {remedy}"
        )


def back_curve(outline: Outline, fraction: Array) -> Array:
    """Return points of the back at fractions (S, n) of the width from -y, shape (S, n, 2)."""
    y = outline.half * (2.0 * fraction - 1.0)
    return _points(y, outline.top - sagitta(outline.crown, y))


def back_fraction(outline: Outline, y: Array) -> Array:
    """Return where on the back `y` (S, n) lies."""
    return 0.5 * (1.0 + y / outline.half)


def belly_curve(outline: Outline, fraction: Array) -> Array:
    """Return points of the belly between its corners, from -y, shape (S, n, 2)."""
    if outline.round_belly:
        return _ellipse(outline, _HALF_WAY * (1.0 + 2.0 * fraction))
    share, r = outline.belly_share, outline.corner
    near = np.minimum(fraction, 1.0 - fraction)
    turn = _HALF_WAY * (1.0 + np.minimum(near / np.maximum(share, _NO_LENGTH), 1.0))
    along = (fraction - share) / np.maximum(1.0 - 2.0 * share, _NO_LENGTH)
    y = (outline.half - r) * (2.0 * np.clip(along, 0.0, 1.0) - 1.0)
    return _points(
        y - np.sign(0.5 - fraction) * r * np.cos(turn), outline.bottom + r * (1.0 - np.sin(turn))
    )


def belly_fraction(outline: Outline, y: Array) -> Array:
    """Return where on the belly `y` (S, n) lies; nan where it lies on a side."""
    if outline.round_belly:
        angle = np.arccos(np.clip(-y / outline.half, -1.0, 1.0))
        fraction = 0.5 * (angle / _HALF_WAY - 1.0)
    else:
        flat, r, share = outline.half - outline.corner, outline.corner, outline.belly_share
        level = share + (1.0 - 2.0 * share) * 0.5 * (1.0 + y / np.maximum(flat, _NO_LENGTH))
        cosine = np.clip((np.abs(y) - flat) / max(r, _NO_LENGTH), 0.0, 1.0)
        near = share * (np.arccos(cosine) / _HALF_WAY - 1.0)
        fraction = np.where(np.abs(y) <= flat, level, np.where(y < 0.0, near, 1.0 - near))
    return np.where((fraction >= 0.0) & (fraction <= 1.0), fraction, np.nan)


def side_curve(outline: Outline, fraction: Array) -> Array:
    """Return points of the -y side from the belly corner up, shape (S, n, 2).

    The +y side is its mirror image.
    """
    if outline.round_belly:
        return _ellipse(outline, _HALF_WAY * (1.0 - fraction))
    share, r = outline.side_share, outline.corner
    turn = _HALF_WAY * (1.0 - np.minimum(fraction / np.maximum(share, _NO_LENGTH), 1.0))
    up = np.maximum(fraction - share, 0.0) / np.maximum(1.0 - share, _NO_LENGTH)
    z = outline.bottom + r * (1.0 - np.sin(turn)) + up * (outline.edge - outline.bottom - r)
    return _points(r * (1.0 - np.cos(turn)) - outline.half, z)


def _ellipse(outline: Outline, angle: Array) -> Array:
    depth = outline.edge - outline.bottom
    return _points(-outline.half * np.cos(angle), outline.edge - depth * np.sin(angle))


def _points(y: Array, z: Array) -> Array:
    return np.stack(np.broadcast_arrays(y, z), axis=-1)
