"""A knot as the bowyer measures it: a mark of some size on one face of a limb."""

from __future__ import annotations

from typing import get_args

import numpy as np

from limbfe.errors import GeometryError
from limbfe.frames import Array
from limbfe.stave.cone import (
    Filler,
    Knot,
    Limb,
    State,
    inside_knot,
    knot_ellipse_at_depth,
    knot_span,
    radius_at,
    signed_station,
)
from limbfe.stave.faces import Face, face_point, ray_length
from limbfe.stave.profile import SectionShapes, shape_at
from limbfe.stave.stave import Stave

__all__ = [
    "Filler",
    "Knot",
    "Limb",
    "State",
    "inside_knot",
    "knot_ellipse_at_depth",
    "knot_span",
    "make_knot",
    "marked_station",
    "radius_at",
]

_GRAZING, _ROUND = 0.34, 0.5
"""Sines of the angle between branch and face (20 and 30 deg): below the first a round mark is not
believed to be that of a branch from the pith, above the second it is (assumed)."""


def make_knot(
    stave: Stave,
    *,
    name: str,
    limb: Limb,
    at: float,
    face: Face,
    across: float,
    diameter: float,
    far_diameter: float | None = None,
    state: State,
    filler: Filler | None = None,
) -> Knot:
    """Return a knot measured on a face of a limb.

    Parameters
    ----------
    stave : Stave
        Its columns, crown, belly and rings are used; knots it already has are not.
    name : str
    limb : {"upper", "lower"}
    at : float, m
        Distance from the middle of the grip along the back, positive on both limbs.
    face : {"back", "belly", "left", "right"}
    across : float, m
        From the middle line of that face, see `limbfe.stave.faces.face_point`; beyond the edge for
        a knot that was carved away.
    diameter : float, m
        Of its mark across the grain on that face.
    far_diameter : float or None, m
        Where it leaves, 0 if it ends there; None for a cone from the pith when the stave has a
        ring radius, otherwise the same as `diameter`.
    state : {"live", "dead", "missing", "filled"}
    filler : Filler or None

    Returns
    -------
    Knot
        A branch grows from the pith: with a finite ring radius its axis runs through the pith,
        square to the limb's axis.  Without one, or where such a branch would graze the face at
        less than 20 degrees and could not leave a mark of that size, it runs straight in from the
        face; from 30 to 20 degrees it turns from one to the other.

    Raises
    ------
    GeometryError
        If the knot lies beyond a tip, has no size, or the words are unknown.

    Notes
    -----
    A branch that meets the face at an angle leaves a longer mark; the cone's radius is half the
    mark times the sine of that angle.  Standards measure the mark (EN 1310, from memory).
    """
    if not diameter > 0.0:
        raise GeometryError(f'knot "{name}": diameter = {diameter:g} m: must be above zero')
    x = marked_station(name, limb, at)
    shapes = shape_at(stave, np.array([x]))
    point, normal = face_point(shapes, face, across)
    direction, distance = _branch(stave, shapes, point, normal)
    sine = float(direction @ normal)
    far = None if far_diameter is None else 0.5 * far_diameter * sine
    length = _length_inside(shapes, face, point, direction, sine)
    length, far_radius = _far_end(length, 0.5 * diameter * sine, far, distance)
    return Knot(
        name=name,
        limb=limb,
        x=x,
        face=face,
        entry=np.array([x, *point]),
        direction=np.array([0.0, *direction]),
        length=length,
        radius=0.5 * diameter * sine,
        far_radius=far_radius,
        state=state,
        filler=filler,
    )


def _length_inside(
    shapes: SectionShapes, face: Face, point: Array, direction: Array, sine: float
) -> float:
    """Return how far a knot's axis runs through the limb; as if it did, for one carved away."""
    length = ray_length(shapes, point, direction)
    if length > 0.0:
        return length
    size = shapes.thickness[0] if face in ("back", "belly") else shapes.width[0]
    return float(size) / sine


def _far_end(
    length: float, radius: float, far: float | None, distance: float
) -> tuple[float, float]:
    """Return a knot's length and far radius; without one given, those of a cone from the pith."""
    if far is not None:
        return length, far
    length = min(length, -distance) if distance < 0.0 else length
    return length, radius * (1.0 + length / distance)


def marked_station(name: str, limb: Limb, at: float) -> float:
    """Return the station of a mark `at` metres from the grip, negative on the lower limb.

    Raises
    ------
    GeometryError
        If there is no such limb or the distance is negative.
    """
    if limb not in get_args(Limb):
        raise GeometryError(f'"{name}": limb = "{limb}": use "upper" or "lower"')
    if not at >= 0.0:
        raise GeometryError(
            f'"{name}": at = {at:g} m: give the distance from the grip as a positive length; limb '
            "says which way"
        )
    return signed_station(limb, at)


def _branch(
    stave: Stave, shapes: SectionShapes, point: Array, normal: Array
) -> tuple[Array, float]:
    """Return the direction (y, z) of a knot into the limb and how far the pith lies behind it.

    The distance is negative when the pith lies ahead, infinite when the knot is not taken from it.
    """
    if np.isfinite(stave.ring_radius):
        from_pith = point - _pith(stave, shapes)
        span = float(np.linalg.norm(from_pith))
        inward = float(from_pith @ normal)
        share = min((abs(inward) / span - _GRAZING) / (_ROUND - _GRAZING), 1.0)
        if share > 0.0:
            sense = float(np.sign(inward))
            direction = share * sense * from_pith / span + (1.0 - share) * normal
            return direction / np.linalg.norm(direction), sense * span / share
    return normal, np.inf


def _pith(stave: Stave, shapes: SectionShapes) -> Array:
    """Return the pith's place (y, z) at one station of a stave with a ring radius."""
    lean = float(shapes.lean[0])
    top = 0.5 * float(shapes.thickness[0])
    return np.array([0.0, top]) - stave.ring_radius * np.array([np.sin(lean), np.cos(lean)])
