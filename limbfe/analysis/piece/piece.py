"""The outline and the wood of the piece of limb round a zone, from its stave alone."""

from __future__ import annotations

import numpy as np

from limbfe.analysis.piece.traces import (
    BULGE,
    DECAY_GRADING,
    filling_of,
    knot_trace,
    lies_along,
)
from limbfe.defect.plate.wood import Course, PlateWood
from limbfe.defect.strip import Ellipse, Strip, half_extent
from limbfe.defect.zone import Grain
from limbfe.stave.knot import Knot, Plane
from limbfe.stave.knot_wood import FILLER_POISSON, KNOT_POISSON
from limbfe.stave.named_zones import Zone
from limbfe.stave.outline import back_z, belly_z, side_y
from limbfe.stave.profile import SectionShapes, shape_at
from limbfe.stave.stave import Stave
from limbfe.wood.elasticity import swap_RT

STRIP_REACH = 1.5
"""Widths of limb on either side of a zone, over which its stress dies out."""
STRIP_SAMPLES = 25
THINNEST = 0.12
"""Of the thickness in the middle: the plate ends where an outline that tapers to an edge is
thinner; it carries nothing there."""
TRACES = 25
"""Depths at which the course of a knot is looked up."""


def zone_trace(zone: Zone, low: float, high: float, plane: Plane = "flat") -> Ellipse | None:
    """Return the widest trace of a zone between two depths, None where it has none."""
    if not isinstance(zone, Knot):
        c, s, across = zone.center, zone.semi_axes, 1 if plane == "flat" else 2
        return Ellipse(x=float(c[0]), y=float(c[across]), a=float(s[0]), b=float(s[across]))
    cuts = [knot_trace(zone, float(z), plane) for z in np.linspace(low, high, TRACES)]
    return max((cut.ellipse for cut in cuts if cut), key=lambda one: one.b, default=None)


def piece_strip(stave: Stave, focus: Ellipse, plane: Plane = "flat") -> Strip:
    """Return the limb's outline in a plane, long enough for the zone's stress to die out."""
    width = float(shape_at(stave, [focus.x]).width[0])
    reach = half_extent(focus)[0] + STRIP_REACH * width
    return outline_between(stave, focus.x - reach, focus.x + reach, plane)


def outline_between(stave: Stave, low: float, high: float, plane: Plane = "flat") -> Strip:
    """Return the limb's outline in a plane between two stations (m), as far as it reaches."""
    x = np.linspace(max(low, float(stave.x[0])), min(high, float(stave.x[-1])), STRIP_SAMPLES)
    shapes = shape_at(stave, x)
    if plane == "side":
        return _seen_aside(shapes)
    half = 0.5 * shapes.width
    share = np.linspace(0.9, 1.0, 41)
    y = half[:, None] * share
    thick = back_z(shapes, y) - belly_z(shapes, y)
    held = thick >= THINNEST * shapes.thickness[:, None]
    half = half * share[np.maximum(held.sum(axis=1) - 1, 0)]
    return Strip(x=x, right=-half, left=half)


def _seen_aside(shapes: SectionShapes) -> Strip:
    """Return belly and back as a limb's outline, without what is thin: edges, a belly's keel."""
    low, high = (face(shapes, np.zeros(len(shapes.x))) for face in (belly_z, back_z))
    share = np.linspace(0.0, 1.0, 81)
    z = low[:, None] + (high - low)[:, None] * share
    held = 2.0 * side_y(shapes, z) >= THINNEST * shapes.width[:, None]
    first, last = held.argmax(axis=1).max(), (80 - held[:, ::-1].argmax(axis=1)).min()
    return Strip(x=shapes.x, right=z[:, first], left=z[:, last])


def depth_faces(stave: Stave, x: float, across: float, plane: Plane) -> tuple[float, float]:
    """Return the depths (m) at which a limb begins and ends at a place of a plane."""
    shapes = shape_at(stave, np.array([x]))
    if plane == "side":
        half = float(side_y(shapes, np.array([across]))[0])
        return -half, half
    low, high = (float(face(shapes, np.array([across]))[0]) for face in (belly_z, back_z))
    return low, high


def piece_wood(
    stave: Stave,
    names: set[str],
    strip: Strip,
    faces: tuple[float, float],
    grain: Grain,
    plane: Plane = "flat",
) -> PlateWood:
    """Return the wood of a piece of limb, elastic.

    Parameters
    ----------
    names : set of str
        Of the knots in it; patches are those that reach into the strip.
    faces : tuple of float, m
        Depths of the two faces at the zone.
    grain : Grain
        Far from the knots.
    plane : {"flat", "side"}
    """
    margin = 0.5 * (faces[1] - faces[0])
    heart = stave.heartwood
    woods = (heart, stave.sapwood_wood or heart, stave.backing_wood or heart)
    decays = tuple(
        decay
        for decay in stave.decays
        if strip.x[0] < decay.center[0] + decay.semi_axes[0]
        and decay.center[0] - decay.semi_axes[0] < strip.x[-1]
    )
    return PlateWood(
        stave=stave,
        woods=tuple(
            wood.elasticity if plane == "flat" else swap_RT(wood.elasticity) for wood in woods
        ),
        knots=tuple(
            _course(knot, faces[0] - margin, faces[1] + margin, plane)
            for knot in stave.knots
            if str(knot.label) in names
        ),
        decays=decays,
        grading=DECAY_GRADING,
        grain=grain,
        plane=plane,
    )


def _course(knot: Knot, low: float, high: float, plane: Plane) -> Course:
    z = np.linspace(low, high, 2 * TRACES - 1)
    rows = np.full((5, len(z)), np.nan)
    for k, depth in enumerate(z):
        trace = knot_trace(knot, float(depth), plane)
        if trace is not None:
            e = trace.ellipse
            rows[:, k] = e.x, e.y, e.a, e.b, e.angle
    known = np.isfinite(rows[0])
    for row, closed in zip(rows, (None, None, CLOSED, CLOSED, None), strict=True):
        row[~known] = np.interp(z[~known], z[known], row[known]) if closed is None else closed
    filler = knot.filler
    lying = lies_along(knot, plane)
    return Course(
        name=knot.label,
        state=filling_of(knot),
        modulus=None if filler is None else filler.E,
        poisson=KNOT_POISSON if filler is None else FILLER_POISSON,
        z=z,
        traces=rows,
        bulge=0.0 if knot.state == "drilled" else BULGE,
        diverts=knot.state != "drilled" and not lying,
        lying=lying,
    )


CLOSED = 1e-6
"""Half width (m) of a knot where it has closed."""
