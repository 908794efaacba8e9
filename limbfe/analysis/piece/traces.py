"""What a plane at one depth cuts of knots and patches."""

from __future__ import annotations

import numpy as np

from limbfe.defect.strip import Ellipse
from limbfe.defect.zone import DecayTrace, KnotState, KnotTrace
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Knot, Plane, knot_ellipse_at_depth
from limbfe.stave.knot_wood import FILLER_POISSON, KNOT_POISSON
from limbfe.stave.named_zones import Zone

PATCH_TIP = 0.995
"""Of a patch's half depth: beyond, its trace is a point."""
LEAST_STEEPNESS = 0.3
"""Sine of a knot's slope to a layer, about 17 degrees, below which the layer's fibres pass over and
under the branch in place of swerving round its cut (a choice: the swerve would be three times as
wide as the branch is thick)."""
LEAST_RADIUS = 1e-4
"""A knot thinner than this (m) at a layer has closed there."""
DECAY_GRADING = 0.5
"""Loss of a decayed patch grows over this part of its radius (a choice: colour fades outward)."""
BULGE = 0.2
"""Height of the rings' bulge over a knot as a share of its radius: the low end of 0.2 to 0.5
(from memory), reached over one radius."""


def plane_of(zone: Zone) -> Plane:
    """A knot is cut square to its axis, a patch parallel to the face it shows on."""
    if isinstance(zone, Knot):
        return "flat" if abs(zone.direction[2]) >= abs(zone.direction[1]) else "side"
    return "flat" if zone.face in ("back", "belly") else "side"


def knot_trace(knot: Knot, depth: float, plane: Plane) -> KnotTrace | None:
    """Return what a plane cuts of a knot; None where it has closed."""
    cut = knot_ellipse_at_depth(knot, depth, plane)
    if cut is None or min(cut.a, cut.b) <= LEAST_RADIUS:
        return None
    radius = min(cut.a, cut.b)
    filler = knot.filler
    return KnotTrace(
        name=knot.label,
        ellipse=Ellipse(x=cut.x, y=cut.across, a=cut.a, b=cut.b, angle=cut.angle),
        state=filling_of(knot),
        modulus=None if filler is None else filler.E,
        poisson=KNOT_POISSON if filler is None else FILLER_POISSON,
        bulge_height=0.0 if knot.state == "drilled" else BULGE * radius,
        bulge_reach=radius,
        bond_tension=None if filler is None else filler.tension,
        bond_shear=None if filler is None else filler.shear,
        diverts=knot.state != "drilled" and not lies_along(knot, plane),
        lying=lies_along(knot, plane),
    )


def filling_of(knot: Knot) -> KnotState:
    """Return what is in a knot's place; whether the fibres were cut there is told apart."""
    if knot.state == "drilled":
        return "missing" if knot.filler is None else "filled"
    return knot.state


def lies_along(knot: Knot, plane: Plane) -> bool:
    """Return whether a branch runs nearly along a plane; see `LEAST_STEEPNESS`."""
    return abs(float(knot.direction[2 if plane == "flat" else 1])) < LEAST_STEEPNESS


def decay_trace(decay: Decay, depth: float, plane: Plane) -> DecayTrace | None:
    """Return what a plane cuts of a patch; None beyond it."""
    axis, across = (2, 1) if plane == "flat" else (1, 2)
    inward = (depth - float(decay.center[axis])) / float(decay.semi_axes[axis])
    if abs(inward) >= PATCH_TIP:
        return None
    scale = float(np.sqrt(1.0 - inward**2))
    effect = decay.effect
    return DecayTrace(
        name=decay.label,
        ellipse=Ellipse(
            x=float(decay.center[0]),
            y=float(decay.center[across]),
            a=scale * float(decay.semi_axes[0]),
            b=scale * float(decay.semi_axes[across]),
        ),
        grading=DECAY_GRADING,
        E=effect.E,
        G=effect.G,
        tension=effect.tension,
        compression=effect.compression,
        shear=effect.shear,
        across=effect.across,
        toughness=effect.toughness,
    )
