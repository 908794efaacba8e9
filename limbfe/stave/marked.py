"""Knots and patches as the bowyer measures them: marks of some size on a face of a limb."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.errors import GeometryError
from limbfe.frames import Array
from limbfe.stave.decay import Decay
from limbfe.stave.faces import face_point, ray_length
from limbfe.stave.grain import from_pith
from limbfe.stave.knot import Filler, Knot, State
from limbfe.stave.marks import Face, Mark, PatchSize, signed_station
from limbfe.stave.profile import SectionShapes, grain_at, shape_at
from limbfe.stave.stave import Stave
from limbfe.stave.zone_label import ZoneLabel
from limbfe.wood.decay import DecayEffect

PITH_TURNS = 12
"""Turns in which a leaning branch and the pith's curve find each other; each is nearer by the
product of their slopes, a tenth or less."""
_GRAZING, _ROUND = 0.34, 0.5
"""Sines of the angle between branch and face (20 and 30 deg): below the first a round mark is not
believed to be that of a branch from the pith, above the second it is (assumed)."""


def make_knot(
    stave: Stave,
    mark: Mark,
    *,
    diameter: float,
    far_diameter: float | None = None,
    lean: float = 0.0,
    state: State,
    filler: Filler | None = None,
) -> Knot:
    """Return a knot measured on a face of a limb.

    Parameters
    ----------
    stave : Stave
        Its columns, outline and rings are used; knots it already has are not.
    mark : Mark
    diameter : float, m
        Of its mark across the grain on that face.
    far_diameter : float or None, m
        Where it leaves, 0 if it ends there; None for a cone from the pith when the stave has a
        ring radius, otherwise the same as `diameter`.
    lean : float, rad
        Of the branch towards the tip, from square to the limb; negative for one that grows towards
        the grip.
    state : {"live", "dead", "missing", "drilled", "filled"}
    filler : Filler or None

    Returns
    -------
    Knot
        A branch grows from the pith: with a finite ring radius its axis runs through the pith,
        leaning as said.  Without one, or where such a branch would graze the face at
        less than 20 degrees and could not leave a mark of that size, it runs straight in from the
        face, as a drilled hole does, which is as wide all the way through; from 30 to 20 degrees
        it turns from one to the other.

    Raises
    ------
    GeometryError
        If the knot lies beyond a tip, has no size, or a word is unknown.

    Notes
    -----
    A branch that meets the face at an angle leaves a longer mark; the cone's radius is half the
    mark times the sine of that angle; its lean lengthens the mark along the grain alone.  The pith
    is met where the leaning axis meets it, the middle of the back taken as straight from the mark
    to there.  Without a ring radius a knot is taken to grow towards the back, or out at the side.
    Standards measure the mark (EN 1310, from memory).
    """
    where = ZoneLabel("knot", mark.name)
    if not diameter > 0.0:
        raise GeometryError(f"{where}: diameter = {diameter:g} m: must be above zero")
    if not abs(lean) < 0.5 * np.pi:
        raise GeometryError(
            f'knot "{mark.name}": lean = {lean:g} rad: must stay below a right angle'
        )
    shapes = shape_at(stave, np.array([mark.x]))
    point, normal = face_point(shapes, mark.face, mark.across)
    slope = np.tan(lean) if mark.limb == "upper" else -np.tan(lean)
    straight = state == "drilled" or np.isinf(stave.grain.ring_radius[0])
    direction, distance, growth = normal, np.inf, -1.0
    if not straight:
        direction, distance, growth = _branch(stave, shapes, point, normal, slope)
    if mark.face == "belly" and np.isinf(distance):
        growth = 1.0
    sine = float(direction @ normal)
    far = None if far_diameter is None else 0.5 * far_diameter * sine
    length = _length_inside(shapes, mark.face, point, direction, sine)
    length, far_radius = _far_end(length, 0.5 * diameter * sine, far, distance)
    axis = np.array([growth * np.sin(lean) * np.sign(signed_station(mark.limb, 1.0)), 0.0, 0.0])
    axis[1:] = np.cos(lean) * direction
    return Knot(
        name=mark.name,
        limb=mark.limb,
        x=mark.x,
        face=mark.face,
        entry=np.array([mark.x, *point]),
        direction=axis,
        length=length / float(np.cos(lean)),
        radius=0.5 * diameter * sine,
        far_radius=far_radius,
        state=state,
        filler=filler,
    )


def make_decay(
    stave: Stave, mark: Mark, size: PatchSize, *, effect: DecayEffect, stage: str, rot: str
) -> Decay:
    """Return a patch of rot measured on a face of a limb.

    Parameters
    ----------
    stave : Stave
        Its columns, crown and belly are used.
    mark : Mark
    size : PatchSize
    effect : DecayEffect
    stage, rot : str
        For reports.

    Returns
    -------
    Decay
        The inner half of an ellipsoid whose middle lies on the face.

    Raises
    ------
    GeometryError
        If the patch lies beyond a tip or has no size.
    """
    point, _ = face_point(shape_at(stave, np.array([mark.x])), mark.face, mark.across)
    half = [0.5 * size.length, 0.5 * size.width, size.depth]
    if mark.face in ("left", "right"):
        half = [half[0], half[2], half[1]]
    return Decay(
        name=mark.name,
        limb=mark.limb,
        face=mark.face,
        center=np.array([mark.x, *point]),
        semi_axes=np.array(half),
        effect=effect,
        stage=stage,
        rot=rot,
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


def _branch(
    stave: Stave, shapes: SectionShapes, point: Array, normal: Array, slope: float
) -> tuple[Array, float, float]:
    """Return a knot's course in its section, followed into the limb.

    Parameters
    ----------
    slope : float
        By how much the branch moves along x while it grows, over its length in the section.

    Returns
    -------
    direction : ndarray, shape (2,), (y, z), unit vector
    distance : float, m
        How far the pith lies behind the mark; negative when it lies ahead, infinite when the knot
        is not taken from it.
    growth : float
        1 if the branch grew along the direction, -1 if against it.
    """
    direction, distance, growth = normal, np.inf, -1.0
    x = shapes.x
    for _ in range(PITH_TURNS):
        there = replace(shape_at(stave, x), thickness=shapes.thickness)
        outward = np.concatenate(from_pith(there, grain_at(stave, x), *point))
        span = float(np.linalg.norm(outward))
        inward = float(outward @ normal)
        growth = float(np.sign(inward))
        share = min((abs(inward) / span - _GRAZING) / (_ROUND - _GRAZING), 1.0)
        if share <= 0.0:
            return normal, np.inf, -1.0
        direction = share * growth * outward / span + (1.0 - share) * normal
        direction, distance = direction / np.linalg.norm(direction), growth * span / share
        if slope == 0.0:
            break
        x = np.clip(shapes.x - abs(distance) * slope, stave.x[0], stave.x[-1])
    return direction, distance, growth
