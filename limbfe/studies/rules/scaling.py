"""Rules about width, thickness, length and draw."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbfe.analysis.bow.solve import SolvedBow, drawn_bow
from limbfe.curves import spline
from limbfe.stave.reshape import resampled, reshaped
from limbfe.stave.stave import Stave
from limbfe.studies.rules.rule import COMMON_PRACTICE, Rule
from limbfe.studies.rules.tried import drawn, elastic_weight, weight
from limbfe.units import unit_factor

INCH = unit_factor("in", "length")
THICKER = 1.6 ** (1.0 / 3.0)


def widen(bow: SolvedBow, factor: float) -> dict[str, float]:
    """Make every station wider by a factor."""
    setup = bow.model.setup
    wider = drawn(setup, replace(setup.stave, width=factor * setup.stave.width))
    gain = weight(wider) / weight(bow)
    return {"measure": gain / factor, "weight_ratio": gain}


def thicken(bow: SolvedBow, factor: float) -> dict[str, float]:
    """Make every station thicker by a factor, on the belly side."""
    setup = bow.model.setup
    stave = reshaped(setup.stave, thickness=factor * setup.stave.thickness)
    gain = weight(drawn(setup, stave)) / weight(bow)
    plain, thick = (elastic_weight(setup, one) for one in (setup.stave, stave))
    return {
        "measure": gain / factor**3,
        "weight_ratio": gain,
        "exponent": float(np.log(gain) / np.log(factor)),
        "exponent_without_yielding": float(np.log(thick / plain) / np.log(factor)),
    }


def shorten(bow: SolvedBow, inches: float) -> dict[str, float]:
    """Cut the bow shorter, half from each tip, at the same brace height and draw length."""
    setup = bow.model.setup
    gain = weight(drawn(setup, cut(setup.stave, 0.5 * inches * INCH))) / weight(bow)
    before = weight(bow)
    return {
        "measure": gain ** (1.0 / inches) - 1.0,
        "weight_ratio": gain,
        "newtons_per_inch": before * (gain - 1.0) / inches,
    }


def cut(stave: Stave, length: float) -> Stave:
    """Return the stave without the last `length` (m) of each tip."""
    low, high = float(stave.x[0]) + length, float(stave.x[-1]) - length
    kept = stave.x[(stave.x > low + 1e-3) & (stave.x < high - 1e-3)]
    return resampled(stave, np.concatenate([[low], kept, [high]]))


def last_inches(bow: SolvedBow, inches: float) -> dict[str, float]:
    """Read what the last inches of the draw add, per inch, as a share of the draw weight."""
    curve = drawn_bow(bow).curve
    end = float(curve.draw_length[-1])
    before = float(spline(curve.draw_length, curve.force)(end - inches * INCH))
    per_inch = (weight(bow) - before) / inches
    return {"measure": per_inch / weight(bow), "newtons_per_inch": per_inch}


RULES = (
    Rule(
        name="width",
        words="Draw weight goes with width: a limb a fifth wider draws a fifth more.",
        label=f"{COMMON_PRACTICE}; beam theory: stiffness is proportional to width",
        study="every station is made wider by the same factor, everything else kept",
        varied="width, factor",
        values=(0.9, 1.1, 1.2, 1.4),
        at=1.2,
        show_value="factor",
        measured="draw weight over what the rule says",
        show_measure="ratio",
        low=0.98,
        high=1.02,
        target=1.0,
        loose=0.10,
        trial=widen,
        why="strain does not change with width, so the belly yields no more than before; an arched "
        "back arches more as it gets wider and loses a little",
    ),
    Rule(
        name="thickness",
        words="Draw weight goes with thickness cubed: a bow of 1.6 times the weight is only 1.17 "
        "times as thick.",
        label=f"{COMMON_PRACTICE}; beam theory: stiffness goes with the cube of thickness",
        study="every station grows 1.17 times thicker on the belly side, the sapwood's depth kept",
        varied="thickness, factor",
        values=(1.05, 1.1, THICKER, 1.3),
        at=THICKER,
        show_value="factor",
        measured="draw weight over what the rule says",
        show_measure="ratio",
        low=0.95,
        high=1.05,
        target=1.0,
        loose=0.25,
        trial=thicken,
        why="a thicker limb is strained more at the same draw, its belly yields further, and the "
        "yielded wood adds no stiffness; without yielding the exponent is 3, or more where "
        "softer sapwood keeps its depth",
    ),
    Rule(
        name="shorten",
        words="Cutting a bow an inch shorter, half from each tip, raises its draw weight by a "
        "twentieth.",
        label=COMMON_PRACTICE,
        study="both tips are cut off, the same brace height and draw length kept",
        varied="length cut off, both tips together",
        values=(0.5, 1.0, 2.0, 3.0),
        at=1.0,
        show_value="inches",
        measured="gain in draw weight per inch",
        show_measure="per cent",
        low=0.04,
        high=0.06,
        target=0.05,
        loose=0.03,
        trial=shorten,
        why="draw weight goes roughly with the inverse cube of a limb's length, and half an inch "
        "is one and a half per cent of a limb",
    ),
    Rule(
        name="last_inch",
        words="Near full draw a bow gains a twentieth of its weight with every inch.",
        label=COMMON_PRACTICE,
        study="the end of each bow's own draw curve is read",
        varied="over the last",
        values=(0.5, 1.0, 2.0, 4.0),
        at=1.0,
        show_value="inches",
        measured="gain in draw weight per inch",
        show_measure="per cent",
        low=0.04,
        high=0.06,
        target=0.05,
        loose=0.03,
        trial=last_inches,
        why="the draw curve is nearly straight over twenty inches or so from brace; string angle "
        "steepens it, a yielding belly flattens it",
    ),
)
