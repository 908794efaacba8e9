"""The four faces of a limb: where a mark on one of them lies in the section."""

from __future__ import annotations

import numpy as np

from limbfe.errors import GeometryError
from limbfe.frames import Array
from limbfe.stave.marks import FACES, Face
from limbfe.stave.outline import back_z, belly_z, edge_z, side_y
from limbfe.stave.profile import SectionShapes


def face_point(shapes: SectionShapes, face: Face, across: float) -> tuple[Array, Array]:
    """Return the section point of a mark on a face and the face's inward normal there.

    Parameters
    ----------
    shapes : SectionShapes
        One station.
    face : {"back", "belly", "left", "right"}
        Left and right are the archer's, y < 0 and y > 0.
    across : float, m
        From the middle line of the face: towards the archer's right on back and belly, towards the
        back on a side, whose middle line lies at mid-thickness.  May lie beyond the edge: the
        point then stays at the height (or width) of the edge.

    Returns
    -------
    point, normal : ndarray, shape (2,), (y, z), m and unit vector

    Raises
    ------
    GeometryError
        If there is no such face.
    """
    if face not in FACES:
        raise GeometryError(f'face = "{face}": use one of {", ".join(FACES)}')
    at = np.array([across])
    if face in ("left", "right"):
        sign = 1.0 if face == "right" else -1.0
        return np.array([sign * side_y(shapes, at)[0], across]), np.array([-sign, 0.0])
    inward = -1.0 if face == "back" else 1.0
    height = back_z(shapes, at)[0] if face == "back" else belly_z(shapes, at)[0]
    normal = np.array([0.0, inward])
    half = 0.5 * float(shapes.width[0])
    if abs(across) < half:
        normal = _curved_normal(shapes, face, across, inward)
    return np.array([across, height]), normal


def ray_length(shapes: SectionShapes, start: Array, direction: Array) -> float:
    """Return how far a ray from a point on the outline runs inside the section.

    Parameters
    ----------
    shapes : SectionShapes
        One station.
    start, direction : ndarray, shape (2,), (y, z), m and unit vector

    Returns
    -------
    float, m
        Zero if the ray misses the section, which is convex.
    """
    reach = float(shapes.width[0] + shapes.thickness[0] + np.abs(start).max())
    s = np.linspace(0.0, reach, 2001)
    inside = np.flatnonzero(_depth(shapes, start, direction, s) > 0.0)
    if inside.size == 0:
        return 0.0
    low, high = s[inside[-1]], s[min(inside[-1] + 1, s.size - 1)]
    for _ in range(50):
        middle = 0.5 * (low + high)
        if _depth(shapes, start, direction, np.array([middle]))[0] > 0.0:
            low = middle
        else:
            high = middle
    return float(0.5 * (low + high))


def _depth(shapes: SectionShapes, start: Array, direction: Array, s: Array) -> Array:
    """Return a measure that is positive inside the section, along a ray."""
    y, z = (start[:, None] + direction[:, None] * s)[:, None]
    sides = 0.5 * shapes.width[:, None] - np.abs(y)
    depth: Array = np.minimum(sides, np.minimum(back_z(shapes, y) - z, z - belly_z(shapes, y)))[0]
    return depth


def _curved_normal(shapes: SectionShapes, face: Face, across: float, inward: float) -> Array:
    """Return the inward normal of a back or belly at a point within its width."""
    normal = np.array([0.0, inward])
    half = 0.5 * float(shapes.width[0])
    crown = float(shapes.crown[0])
    if face == "back" and np.isfinite(crown):
        normal = -np.array([across, np.sqrt(crown**2 - across**2)])
    elif face == "belly" and shapes.belly == "round":
        depth = float(edge_z(shapes)[0] + 0.5 * shapes.thickness[0])
        normal = np.array([-across / half**2, np.sqrt(1.0 - (across / half) ** 2) / depth])
    elif face == "belly" and shapes.belly == "corner":
        into = max(abs(across) - (half - shapes.belly_corner), 0.0)
        rise = np.sqrt(max(shapes.belly_corner**2 - into**2, 0.0))
        normal = np.array([-np.sign(across) * into, rise if into else 1.0])
    unit: Array = normal / np.linalg.norm(normal)
    return unit
