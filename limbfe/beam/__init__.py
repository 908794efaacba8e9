"""Geometrically exact beam finite elements, string, bracing and drawing."""

from limbfe.beam.bow import Bow, BowString, Hold, StringBed
from limbfe.beam.equilibrium.state import BowState, DrawHistory, own_frame
from limbfe.beam.limbs.chain import Chain, energy_given, gauss_positions
from limbfe.beam.rates.sensitivity import Sensitivity, sensitivities_along
from limbfe.beam.strung.bracing import brace, brace_on, force_to_string
from limbfe.beam.strung.drawing import draw, draw_on, follow, unstrung_shape
from limbfe.beam.strung.measures import TradeMeasures, line_below, measure, string_of
from limbfe.beam.strung.pulling import pull, pull_through
from limbfe.compiled import announce_compilation

__all__ = [
    "Bow",
    "BowState",
    "BowString",
    "Chain",
    "DrawHistory",
    "Hold",
    "Sensitivity",
    "StringBed",
    "TradeMeasures",
    "announce_compilation",
    "brace",
    "brace_on",
    "draw",
    "draw_on",
    "energy_given",
    "follow",
    "force_to_string",
    "gauss_positions",
    "line_below",
    "measure",
    "own_frame",
    "pull",
    "pull_through",
    "sensitivities_along",
    "string_of",
    "unstrung_shape",
]
