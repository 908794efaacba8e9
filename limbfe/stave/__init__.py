"""Where the wood is: profile, outline, knots, decay and grain of one stave."""

from limbfe.stave.decay import Decay, inside_decay
from limbfe.stave.field import (
    StrengthField,
    Zones,
    grain_axes,
    stiffness_at,
    strength_at,
    wood_at,
    zone_at,
)
from limbfe.stave.knot import Filler, Knot, inside_knot, knot_ellipse_at_depth
from limbfe.stave.marked import make_decay, make_knot
from limbfe.stave.marks import Mark, PatchSize
from limbfe.stave.outline import (
    back_z,
    backing_z,
    belly_z,
    edge_z,
    inside_outline,
    sapwood_z,
    side_y,
)
from limbfe.stave.profile import SectionShapes, axis_at, grain_at, shape_at
from limbfe.stave.stave import Grain, Outline, Stave

__all__ = [
    "Decay",
    "Filler",
    "Grain",
    "Knot",
    "Mark",
    "Outline",
    "PatchSize",
    "SectionShapes",
    "Stave",
    "StrengthField",
    "Zones",
    "axis_at",
    "back_z",
    "backing_z",
    "belly_z",
    "edge_z",
    "grain_at",
    "grain_axes",
    "inside_decay",
    "inside_knot",
    "inside_outline",
    "knot_ellipse_at_depth",
    "make_decay",
    "make_knot",
    "sapwood_z",
    "shape_at",
    "side_y",
    "stiffness_at",
    "strength_at",
    "wood_at",
    "zone_at",
]
