"""Geometrically exact beam finite elements, string, bracing and drawing."""

from limbfe.beam.bow import Bow, BowString, Hold
from limbfe.beam.brace import brace
from limbfe.beam.chain import Chain, gauss_positions
from limbfe.beam.draw import draw
from limbfe.beam.pull import pull
from limbfe.beam.state import BowState, DrawHistory

__all__ = [
    "Bow",
    "BowState",
    "BowString",
    "Chain",
    "DrawHistory",
    "Hold",
    "brace",
    "draw",
    "gauss_positions",
    "pull",
]
