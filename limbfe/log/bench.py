"""Where the wood lies on the bench: sections of a stave, and its branches, as they are looked at.

In a section points are given to the right of the snapped line and up from the back at it, m.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.frames import Array
from limbfe.log.branch import cone, narrowing, place_in_section
from limbfe.log.line import Line
from limbfe.log.log import Log, Mark
from limbfe.log.turn import Turn
from limbfe.stave.knot import Knot
from limbfe.stave.outline import back_z, belly_z
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Back:
    """The back in one section: a ring round the pith, or level where the pith is not known.

    Attributes
    ----------
    round : bool
    radius, across : float, m
        Depth of the pith below the back at the snapped line, and how far to its right it lies.
    """

    round: bool
    radius: float
    across: float

    def height(self, right: Array) -> Array:
        """Return how high the back lies over its level at the snapped line."""
        if not self.round:
            return np.zeros(np.shape(right))
        reach = np.hypot(self.radius, self.across)
        inside = np.maximum(reach**2 - (np.asarray(right) - self.across) ** 2, 0.0)
        height: Array = np.sqrt(inside) - self.radius
        return height

    def place(self, offset: float, right: Array, down: Array) -> Array:
        """Return points of a limb whose line lies at `offset`, square to the ring there, (..., 2).

        `right` and `down` count from the line, in the limb's own section.
        """
        top, angle = 0.0, 0.0
        if self.round:
            top = float(self.height(np.array(offset)))
            angle = float(np.arctan2(offset - self.across, self.radius + top))
        c, s = np.cos(angle), np.sin(angle)
        placed: Array = np.stack(
            [offset + c * right - s * down, top - s * right - c * down], axis=-1
        )
        return placed


def back_at(log: Log, x: float) -> Back:
    """Return the back at a station."""
    return Back(
        round=log.round,
        radius=float(log.at("pith", x)),
        across=float(log.at("pith_across", x)),
    )


def stave_outline(log: Log, x: float, sides: int = 41, top: int = 61) -> Array:
    """Return the stave's outline at a station, once round and not closed, shape (n, 2).

    Parameters
    ----------
    log : Log
    x : float, m
    sides, top : int
        Points of either split face and of the back; n is twice the first and the second.
    """
    depth = float(log.at("depth", x))
    down = np.linspace(0.0, depth, sides)
    left, right = log.edges(np.full(sides, x), down)
    faces = [np.stack([left, -down], axis=1), np.stack([right, -down], axis=1)[::-1]]
    outline = np.concatenate(faces)
    back = back_at(log, x)
    outline[:, 1] += back.height(outline[:, 0]) * (1.0 + outline[:, 1] / depth)
    arch = np.linspace(right[0], left[0], top)
    return np.concatenate([outline, np.stack([arch, back.height(arch)], axis=1)])


def limb_outline(log: Log, line: Line, wanted: Stave, x: float, points: int = 121) -> Array:
    """Return the finished limb's outline in the stave at a station, shape (2 * points, 2)."""
    shapes = shape_at(wanted, np.array([float(line.along(x))]))
    half, thick = 0.5 * float(shapes.width[0]), float(shapes.thickness[0])
    y = np.linspace(-half, half, points)
    back, belly = back_z(shapes, y[None, :])[0], belly_z(shapes, y[None, :])[0]
    ring = np.concatenate([np.stack([y, back], 1), np.stack([y, belly], 1)[::-1]])
    across = Turn(line.upper_end).across(ring[:, 0])
    return back_at(log, x).place(float(line.offset_at(x)), across, 0.5 * thick - ring[:, 1])


def branch_on_bench(log: Log, mark: Mark) -> Knot:
    """Return a branch as a cone from its mark inwards: along the stave, to the right, up; m.

    With the pith known it ends there, and one seen on the belly is followed out to the back;
    otherwise it ends on the far face.

    Notes
    -----
    The stave's own bend and twist are left out, as within a limb.
    """
    back, depth = back_at(log, mark.x), float(log.at("depth", mark.x))
    beside = mark.face in ("left", "right")
    faces = dict(
        zip(("left", "right"), log.edges(mark.x, mark.across if beside else 0.0), strict=True)
    )
    right = float(faces[mark.face]) if beside else mark.across
    down = {"back": 0.0, "belly": depth}.get(mark.face, mark.across)
    point = np.array([right, float(back.height(np.array(right))) * (1.0 - down / depth) - down])
    if log.round:
        end = np.array([back.across, -back.radius])
    elif beside:
        end = np.array([float(faces["right" if mark.face == "left" else "left"]), point[1]])
    else:
        end = np.array([right, -depth if mark.face == "back" else 0.0])
    inward = end - point
    span = float(np.hypot(*inward))
    along = np.array([-np.sin(mark.lean), *(np.cos(mark.lean) * inward / span)])
    if mark.face == "belly" and not log.round:
        along[0] = -along[0]  # here inwards is towards the back, the way the branch grew
    radius, length = place_in_section(log, mark, 0.0)[2], span / float(np.cos(mark.lean))
    slope = radius / length if log.round and mark.state != "drilled" else 0.0
    if mark.far_diameter is not None:
        slope, length = narrowing(log, mark, 0.0, inward / span, radius, length)
    entry = np.array([mark.x, *point])
    if mark.face == "belly" and log.round and abs(along[2]) > 1e-9:
        out = -float(entry[2] / along[2])
        entry, length, radius = entry + out * along, length - out, radius - out * slope
    return cone(mark, mark.x, entry, along, (length, radius, slope))


def lifted(log: Log, x: Array, section: Array) -> Array:
    """Return points of sections in space: along the stave, to the left, up, shape (..., 3), m.

    Parameters
    ----------
    log : Log
    x : ndarray, shape (...), m
    section : ndarray, shape (..., 2), m

    Notes
    -----
    The back lies over the straight edge by its rise and leans by its twist.
    """
    twist, rise = log.at("twist", x), log.at("rise", x)
    c, s = np.cos(twist), np.sin(twist)
    right = c * section[..., 0] + s * section[..., 1]
    up = rise - s * section[..., 0] + c * section[..., 1]
    return np.stack([np.asarray(x, dtype=np.float64), -right, up], axis=-1)
