"""What is left of a zone in the finished limb, and which zones take up the same wood."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.piece.traces import decay_trace, knot_trace, plane_of
from limbfe.defect.strip import half_extent
from limbfe.defect.zone import DecayTrace, KnotTrace
from limbfe.frames import Array
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot, inside_knot, radius_at
from limbfe.stave.named_zones import Zone, zones_of
from limbfe.stave.outline import inside_outline, side_y
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave

Fate = Literal["whole", "cut", "gone"]
FATES = {
    "cut": "the edge of the limb cuts it",
    "gone": "no wood of it is left in the finished limb, only the swirl of its grain",
}
_DEPTHS, _PLACES = 9, 11


def fate_of(stave: Stave, zone: Zone) -> Fate:
    """Return whether a zone lies whole in the limb, is cut by an edge, or outside of it."""
    plane = plane_of(zone)
    shapes = shape_at(stave, [zone.extent[0]])
    width, thickness = float(shapes.width[0]), float(shapes.thickness[0])
    deep, across = (thickness, width) if plane == "flat" else (width, thickness)
    kept = []
    for depth in np.linspace(-0.5 * deep, 0.5 * deep, _DEPTHS):
        trace: KnotTrace | DecayTrace | None
        if isinstance(zone, Knot):
            trace = knot_trace(zone, float(depth), plane)
        else:
            trace = decay_trace(zone, float(depth), plane)
        if trace is not None:
            aside, half = abs(trace.ellipse.y), half_extent(trace.ellipse)[1]
            edge = float(side_y(shapes, [depth])[0]) if plane == "flat" else 0.5 * across
            if aside - half < edge:
                kept.append(aside + half <= 0.5 * across)
    if not kept:
        return "gone"
    return "whole" if all(kept) else "cut"


def sharing(stave: Stave, zone: Zone) -> tuple[Zone, ...]:
    """Return a zone with all that take up some of its wood, or some of theirs."""
    found: list[Zone] = [zone]
    waiting = [zone]
    while waiting:
        one = waiting.pop()
        for other in zones_of(stave):
            if all(other.label != known.label for known in found) and _overlap(stave, one, other):
                found.append(other)
                waiting.append(other)
    return tuple(other for other in zones_of(stave) if any(other.label == f.label for f in found))


def _overlap(stave: Stave, one: Zone, two: Zone) -> bool:
    """Whether wood of the limb lies in both zones, by points through the first or the second."""
    if isinstance(one, Knot) and isinstance(two, Knot):
        return False  # knots that meet are refused
    (x1, reach1), (x2, reach2) = one.extent, two.extent
    if abs(x1 - x2) > reach1 + reach2:
        return False
    points = np.concatenate([_points(one), _points(two)])
    points = points[(points[:, 0] > stave.x[0]) & (points[:, 0] < stave.x[-1])]
    both = _within(one, points) & _within(two, points)
    if not both.any():
        return False
    x, y, z = points[both].T
    return bool(inside_outline(shape_at(stave, x), y, z).any())


def _points(zone: Zone) -> Array:
    """Points through a zone, shape (n, 3)."""
    if isinstance(zone, Decay):
        unit = np.linspace(-0.98, 0.98, _PLACES)
        grid = np.stack(np.meshgrid(unit, unit, unit, indexing="ij"), axis=-1).reshape(-1, 3)
        inner: Array = grid[(grid**2).sum(axis=1) < 1.0] * zone.semi_axes + zone.center
        return inner
    s = np.linspace(0.0, zone.length, 2 * _PLACES)
    axis = zone.entry + s[:, None] * zone.direction
    helper = np.eye(3)[int(np.abs(zone.direction).argmin())]
    beside = np.cross(zone.direction, helper)
    beside /= np.linalg.norm(beside)
    other = np.cross(zone.direction, beside)
    t = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
    ring = np.cos(t)[:, None] * beside + np.sin(t)[:, None] * other
    rims = [axis] + [
        (axis[:, None] + share * radius_at(zone, s)[:, None, None] * ring).reshape(-1, 3)
        for share in (0.5, 0.98)
    ]
    return np.concatenate(rims)


def _within(zone: Zone, points: Array) -> NDArray[np.bool_]:
    if isinstance(zone, Knot):
        return np.asarray(inside_knot(zone, *points.T))
    inner: NDArray[np.bool_] = (((points - zone.center) / zone.semi_axes) ** 2).sum(axis=1) < 1.0
    return inner
