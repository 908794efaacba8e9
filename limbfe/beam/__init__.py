"""Geometrically exact beam finite elements, string, bracing and drawing."""

from limbfe.beam.bow import Bow, BowString, Hold
from limbfe.beam.brace import brace
from limbfe.beam.chain import Chain, gauss_positions
from limbfe.beam.draw import draw
from limbfe.beam.ensemble import Ensemble, draw_ensemble
from limbfe.beam.inelastic import brace_inelastic, draw_inelastic, follow_inelastic, unstrung_shape
from limbfe.beam.measures import TradeMeasures, measure
from limbfe.beam.pull import pull
from limbfe.beam.sensitivity import Sensitivity, draw_sensitivities, draw_sensitivity
from limbfe.beam.state import BowState, DrawHistory, own_frame
from limbfe.beam.statics import ChainState, Loads, follow_load, natural_frequencies
from limbfe.fem.compiled import announce_compilation

__all__ = [
    "Bow",
    "BowState",
    "BowString",
    "Chain",
    "ChainState",
    "DrawHistory",
    "Ensemble",
    "Hold",
    "Loads",
    "Sensitivity",
    "TradeMeasures",
    "announce_compilation",
    "brace",
    "brace_inelastic",
    "draw",
    "draw_ensemble",
    "draw_inelastic",
    "draw_sensitivities",
    "draw_sensitivity",
    "follow_inelastic",
    "follow_load",
    "gauss_positions",
    "measure",
    "natural_frequencies",
    "own_frame",
    "pull",
    "unstrung_shape",
]
