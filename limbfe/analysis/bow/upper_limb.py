"""Which end of a bow the figures favour as the upper limb, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from limbfe.analysis.bow.setup import BowSetup
from limbfe.beam import BowState
from limbfe.beam.bow import Bow
from limbfe.beam.strung.measures import tip_stiffness
from limbfe.frames import Array, read_only
from limbfe.units import Length, Sentence, Words

EVEN = 0.02
"""Limbs whose stiffness differs by less than this share are called even."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UpperLimb:
    """Which end should be the upper limb.

    Attributes
    ----------
    favoured : {"upper", "lower", "either"}
        The end that the case calls so: "lower" means turn the bow over.
    stiffness : ndarray, shape (2,), N/m
        Of the lower and the upper limb at their nocks (`beam.strung.measures.tip_stiffness`).
    moment : ndarray, shape (2,), N m
        Bending moment of the lower and the upper limb at full draw as the bow is held, at the first
        Gauss point beyond the grip, a fifth of an element from it.
    reason : str or Sentence
    """

    favoured: Literal["upper", "lower", "either"]
    stiffness: Array
    moment: Array
    reason: Words

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        lower, upper = (1e-3 * float(value) for value in self.stiffness)
        return {
            "favoured": self.favoured,
            "tip_stiffness_N_per_mm": {"lower": lower, "upper": upper},
            "grip_moment_Nm": {"lower": float(self.moment[0]), "upper": float(self.moment[1])},
            "reason": str(self.reason),
        }


def upper_limb(setup: BowSetup, bow: Bow, drawn: BowState) -> UpperLimb:
    """Return the end that the limbs' stiffness favours as the upper one.

    Notes
    -----
    Common practice: the stiffer limb goes below, because the hand presses below the arrow and
    the lower limb is loaded more.
    """
    stiffness = tip_stiffness(bow)
    lower, upper = (float(value) for value in stiffness)
    places = ((bow.model.lower - 1, 1), (bow.model.upper, 0))
    moment = np.array([drawn.resultants[element, point, 4] for element, point in places])
    favoured: Literal["upper", "lower", "either"] = "either"
    if abs(upper - lower) > EVEN * max(upper, lower):
        favoured = "lower" if upper > lower else "upper"
    words: Words = _stiffness_words(lower, upper, favoured)
    if setup.holding.kind == "hand" and setup.holding.hand_at < setup.holding.arrow_at:
        words = Sentence(
            "{}; with the hand {} below the arrow, the lower limb's bending moment at the grip is "
            "{:.2f} times the upper's at full draw",
            words,
            Length(setup.holding.arrow_at - setup.holding.hand_at),
            moment[0] / moment[1],
        )
    return UpperLimb(
        favoured=favoured,
        stiffness=read_only(stiffness),
        moment=read_only(moment),
        reason=words,
    )


def _stiffness_words(lower: float, upper: float, favoured: str) -> str:
    if favoured == "either":
        return f"the limbs are alike in stiffness within {EVEN:.0%}"
    stiff, more = ("lower", lower / upper) if lower > upper else ("upper", upper / lower)
    return (
        f"the {stiff} limb is the stiffer by {more - 1.0:.0%}, and common practice puts the "
        "stiffer limb below"
    )
