"""Branches: cones from the pith, seen from a limb that is to be cut out of the stave.

The limb's section stands square to the back at the centre line.  With the pith known the back is a
ring, so wherever the line runs the pith lies straight below it: a branch is turned round the pith
by the angle between its mark and the line.  Without a pith, branches run straight in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.frames import Array
from limbfe.log.line import Line
from limbfe.log.log import Log, Mark
from limbfe.log.turn import Turn
from limbfe.stave.knot import SWIRL_REACH, Knot, knot_ellipse_at_depth
from limbfe.stave.marks import Face
from limbfe.stave.outline import edge_z
from limbfe.stave.profile import SectionShapes

GRAZING = 0.35
"""Sine of the angle between branch and side face below which its mark is given on the back."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Words:
    """A knot of the finished limb as a case file says it; SI.

    `far_diameter`, on the limb's opposite face, is None for a branch that comes from the pith.
    """

    name: str
    s: float
    face: Face
    across: float
    diameter: float
    far_diameter: float | None
    lean: float
    mark: Mark


def place_in_section(log: Log, mark: Mark, offset: float) -> tuple[Array, Array, float]:
    """Return a mark and the pith in the section of a line, and the radius of the branch there.

    Parameters
    ----------
    log : Log
    mark : Mark
    offset : float, m
        Of the line at the mark's station.

    Returns
    -------
    point, pith : ndarray, shape (2,), m
        To the right on the bench and down from the back at the line; the pith is infinite, below,
        above or at the side, where it is not known.
    radius : float, m
        Of the branch, square to its axis.
    """
    left, right = log.edges(mark.x, mark.across if mark.face in ("left", "right") else 0.0)
    depth = float(log.at("depth", mark.x))
    radius = float(log.at("pith", mark.x))
    beside = {"left": float(left), "right": float(right)}
    if mark.face in beside:
        seen, down = beside[mark.face], mark.across
        normal = np.array([1.0 if mark.face == "left" else -1.0, 0.0])
    else:
        seen, down = mark.across, 0.0 if mark.face == "back" else depth
        normal = np.array([0.0, 1.0 if mark.face == "back" else -1.0])
    if not log.round:
        point = np.array([seen - offset, down])
        return point, point + 1e3 * np.where(normal == 0.0, 0.0, normal), 0.5 * mark.diameter
    pith_across = float(log.at("pith_across", mark.x))
    angle = (seen - offset) / radius
    reach = radius
    if mark.face != "back":
        out = np.array([seen - pith_across, radius - down])
        reach = float(np.hypot(*out))
        angle = float(np.arctan2(out[0], out[1])) - (offset - pith_across) / radius
        inward = -out / reach
        sine = abs(float(inward @ normal))
    else:
        sine = 1.0
    point = np.array([reach * np.sin(angle), radius - reach * np.cos(angle)])
    return point, np.array([0.0, radius]), 0.5 * mark.diameter * sine


def branch_in_section(
    log: Log, mark: Mark, offset: float, turn: Turn, shapes: SectionShapes
) -> Knot:
    """Return a branch as a cone in the axes of the limb's section at its mark.

    Parameters
    ----------
    log : Log
    mark : Mark
    offset : float, m
        Of the line at the mark's station.
    turn : Turn
    shapes : SectionShapes
        The limb there, one station.

    Returns
    -------
    Knot
        Its `entry` where the branch meets the height of the back, x counted from the mark.
    """
    point, pith, radius = place_in_section(log, mark, offset)
    half = 0.5 * float(shapes.thickness[0])
    inward = pith - point
    span = float(np.hypot(*inward))
    inward = inward / span
    tan = float(np.tan(mark.lean)) * turn.way
    along = np.array([-tan, float(turn.across(inward[0])), -inward[1]])
    along /= np.linalg.norm(along)
    entry = np.array([0.0, float(turn.across(point[0])), half - point[1]])
    length = span / float(np.cos(mark.lean))
    narrows = log.round and mark.state != "drilled"
    slope = radius / length if narrows else 0.0
    if mark.far_diameter is not None:
        slope, length = narrowing(log, mark, offset, inward, radius, length)
    if mark.face == "belly" and not log.round:
        along = -along
    if mark.face in ("back", "belly") and abs(along[2]) > 1e-9:
        # the branch went on towards the back: its cone is taken from there
        out = (half - entry[2]) / along[2]
        entry, length = entry + out * along, length - out
        radius -= out * slope
    return cone(mark, 0.0, entry, along, (length, radius, slope))


def cone(
    mark: Mark, x: float, entry: Array, along: Array, shape: tuple[float, float, float]
) -> Knot:
    """Return the knot of a marked branch, a cone from `entry` at `x` along a direction.

    `shape` is its length (m), its radius at the entry (m) and how much that loses over a length.
    """
    length, radius, slope = shape
    return Knot(
        name=mark.name,
        limb="upper",
        x=x,
        face="back",
        entry=entry,
        direction=along,
        length=length,
        radius=max(radius, 0.0),
        far_radius=max(radius - slope * length, 0.0),
        state=mark.state,
        filler=mark.filler,
    )


def narrowing(
    log: Log, mark: Mark, offset: float, inward: Array, radius: float, length: float
) -> tuple[float, float]:
    """Return how fast a branch narrows from its mark inwards, and how far it reaches, m.

    By its diameter on the opposite face of the stave; a branch seen on the belly widens or narrows
    towards the back, away from which inwards is counted.
    """
    assert mark.far_diameter is not None
    beside = mark.face in ("left", "right")
    left, right = log.edges(mark.x, mark.across if beside else 0.0)
    thick = float(right - left) if beside else float(log.at("depth", mark.x))
    normal = abs(float(inward[0 if beside else 1]))
    through = thick / max(normal, GRAZING) / float(np.cos(mark.lean))
    slope = (radius - radius * mark.far_diameter / mark.diameter) / through
    if mark.face == "belly":
        return -slope, length
    ends = radius / slope if slope > 0.0 else 2.0 * through
    return slope, min(length, ends)


def in_words(knot: Knot, mark: Mark, s: float, lean: float, shapes: SectionShapes) -> Words | None:
    """Return how a case file describes a branch in the finished limb; None where it is gone.

    Parameters
    ----------
    knot : Knot
        In the limb's section at its mark.
    mark : Mark
    s : float, m
        Station of the mark along the bow.
    lean : float, rad
        Of the branch towards the tip.
    shapes : SectionShapes

    Notes
    -----
    A branch is given where it meets the back, beyond the edge too as long as its swirl reaches the
    limb (three radii, see `limbfe.stave.knot`); one that runs in from the side, on that side.
    """
    half_width, half = 0.5 * float(shapes.width[0]), 0.5 * float(shapes.thickness[0])
    flat = knot.direction[1:] / np.linalg.norm(knot.direction[1:])
    if abs(flat[1]) > GRAZING:
        face: Face = "back"
        normal, beside, edge = 2, 1, half_width
        level = back_level(knot, shapes)
    else:
        face = "right" if knot.direction[1] < 0.0 else "left"
        normal, beside, edge = 1, 2, half
        level = half_width if face == "right" else -half_width
    at = (level - knot.entry[normal]) / knot.direction[normal]
    point = knot.entry + at * knot.direction
    square = abs(float(flat[normal - 1]))
    crown = float(shapes.crown[0])
    if face == "back" and abs(point[1]) < half_width and np.isfinite(crown):
        square = abs(float(flat @ [point[1], np.sqrt(crown**2 - point[1] ** 2)])) / crown
    size = 2.0 * _radius(knot, at) / square
    far = None
    if mark.far_diameter is not None:
        out = (-level - knot.entry[normal]) / knot.direction[normal]
        far = max(2.0 * _radius(knot, out) / abs(float(flat[normal - 1])), 0.0)
        far = far if out <= knot.length else 0.0
    across = float(point[beside])
    if abs(across) - edge > SWIRL_REACH * 0.5 * size or size <= 0.0:
        return None
    return Words(
        name=mark.name,
        s=s + float(point[0]),
        face=face,
        across=across,
        diameter=size,
        far_diameter=far,
        lean=lean,
        mark=mark,
    )


def back_level(knot: Knot, shapes: SectionShapes) -> float:
    """Return at which height z (m) the axis of a branch meets the back of a limb.

    Past the edges of an arched back, and of one that the axis misses, that of its edges, as
    `limbfe.stave.faces.face_point` has it.
    """
    half, crown = 0.5 * float(shapes.thickness[0]), float(shapes.crown[0])
    if not np.isfinite(crown):
        return half
    # the axis meets the circle of the arch nearest to where it starts
    start = knot.entry[1:] - np.array([0.0, half - crown])
    flat = knot.direction[1:] / np.linalg.norm(knot.direction[1:])
    along = float(start @ flat)
    inside = along**2 - float(start @ start) + crown**2
    edge = float(edge_z(shapes)[0])
    if inside < 0.0:
        return edge
    return max(float(start[1] - (along + np.sqrt(inside)) * flat[1]) + half - crown, edge)


def _radius(knot: Knot, at: float) -> float:
    return knot.radius + (knot.far_radius - knot.radius) * at / knot.length


def mark_on_back(knot: Knot, z: float) -> tuple[float, float] | None:
    """Return where a cone's ellipse on a plane z = const lies across the limb and its width, m.

    Returns
    -------
    (across, width) or None
        None where the plane misses it or runs along the branch.
    """
    cut = knot_ellipse_at_depth(knot, z)
    if cut is None or not cut.closed:
        return None
    half = float(np.hypot(cut.a * np.sin(cut.angle), cut.b * np.cos(cut.angle)))
    return cut.across, 2.0 * half


def lean_to_tip(mark: Mark, line: Line) -> float:
    """Return the lean of a branch towards the nearer tip, rad, from its lean towards the top."""
    towards_top = mark.x >= line.grip
    return mark.lean if towards_top else -mark.lean
