"""Rules about what makes an arrow fast: tips, string, the arrow's own mass, brace height."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.bow.solve import SolvedBow, curve_of
from limbfe.analysis.shot.speed import arrow_speed, usual_arrow
from limbfe.errors import GeometryError
from limbfe.studies.compare.scaling import scale_to
from limbfe.studies.rules.rule import COMMON_PRACTICE, Rule
from limbfe.studies.rules.tried import narrowed_tips, refined, weight
from limbfe.units import unit_factor

INCH = unit_factor("in", "length")


def light_tips(bow: SolvedBow, narrowing: float) -> dict[str, float]:
    """Narrow the outer quarter, as much thicker as keeps its stiffness, at the same weight."""
    setup = bow.model.setup
    stave = refined(setup.stave)
    narrow = narrowed_tips(stave, narrowing, 1.0)
    plain, light = (
        scale_to(replace(setup, stave=one), draw_weight=weight(bow)).solved
        for one in (stave, narrow)
    )
    before, after = (_speed(one) for one in (plain, light))
    return {"measure": after / before - 1.0, "speed_before": before}


def heavy_string(bow: SolvedBow, factor: float) -> dict[str, float]:
    """Make the string heavier, and see how much of that counts as if the arrow carried it."""
    setup = bow.model.setup
    mass = setup.stringing.mass
    heavy = exercised_bow(adjust(setup, stringing={"mass": factor * mass}), beyond=False)
    arrow = usual_arrow(weight(bow))
    added = _virtual_mass(heavy, arrow) - _virtual_mass(bow, arrow)
    return {
        "measure": added / ((factor - 1.0) * mass),
        "speed_change": arrow_speed(heavy, arrow) / _speed(bow) - 1.0,
    }


def lighter_arrow(bow: SolvedBow, share: float) -> dict[str, float]:
    """Shoot a lighter arrow, and compare the mass that seems to fly with it."""
    usual = usual_arrow(weight(bow))
    before, after = _virtual_mass(bow, usual), _virtual_mass(bow, share * usual)
    return {
        "measure": after / before,
        "virtual_mass": before,
        "speed_change": arrow_speed(bow, share * usual) / _speed(bow) - 1.0,
    }


def lower_brace(bow: SolvedBow, lowered: float) -> dict[str, float]:
    """String the bow lower, drawn as far with the same arrow."""
    setup = bow.model.setup
    low = _braced(setup, lowered)
    arrow = usual_arrow(weight(bow))
    gain = arrow_speed(low, arrow) / _speed(bow) - 1.0
    return {
        "measure": gain,
        "gain_per_inch": gain * INCH / lowered,
        "weight_change": weight(low) / weight(bow) - 1.0,
    }


def _braced(setup: BowSetup, lowered: float) -> SolvedBow:
    height = setup.stringing.brace_height
    assert height is not None
    if height - lowered < 0.06:
        raise GeometryError("a brace height below 60 mm: the string would hit the hand")
    return exercised_bow(adjust(setup, stringing={"brace_height": height - lowered}), beyond=False)


@lru_cache(maxsize=4)
def _speed(bow: SolvedBow) -> float:
    """Return the speed (m/s) of the usual arrow."""
    return arrow_speed(bow)


def _virtual_mass(bow: SolvedBow, arrow: float) -> float:
    """Return the mass (kg) that would have to fly with the arrow to take all of the work."""
    work = float(curve_of(bow.braced, bow.states).energy[-1])
    return 2.0 * work / arrow_speed(bow, arrow) ** 2 - arrow


RULES = (
    Rule(
        name="light_tips",
        words="Narrow light tips make a bow faster.",
        label=COMMON_PRACTICE,
        study="the outer quarter is narrowed, and thickened to keep its stiffness; the same draw "
        "weight, and an arrow of ten grains a pound",
        varied="width of the tips, factor",
        values=(0.9, 0.8, 0.7, 0.6),
        at=0.7,
        show_value="factor",
        measured="gain in the arrow's speed",
        show_measure="per cent",
        low=0.005,
        high=np.inf,
        target=None,
        loose=0.0,
        trial=light_tips,
        why="the outer quarter moves fastest, and what it holds of the energy goes with its "
        "mass; wood moved from width to depth keeps the stiffness with less of it",
    ),
    Rule(
        name="string_mass",
        words="A third of the string's mass counts as the arrow's.",
        label=f"{COMMON_PRACTICE}; P. E. Klopsteg, 1930s and 1940s (from memory)",
        study="the string is made heavier and no stiffer; what it adds to the mass that would have "
        "to fly with the arrow to take all of the work",
        varied="mass of the string, factor",
        values=(1.5, 2.0, 3.0),
        at=2.0,
        show_value="factor",
        measured="share of the added mass that counts",
        show_measure="share",
        low=0.25,
        high=0.42,
        target=1.0 / 3.0,
        loose=0.15,
        trial=heavy_string,
        why="a straight half string between a resting tip and the nock holds a sixth of its "
        "mass times the square of the arrow's speed, both halves a third together; it also "
        "moves the tips, bows out and rings",
    ),
    Rule(
        name="virtual_mass",
        words="What the bow keeps for itself is as if a mass flew with the arrow, the same for "
        "every arrow.",
        label=f"{COMMON_PRACTICE}; P. E. Klopsteg, 1930s and 1940s (from memory)",
        study="an arrow lighter than ten grains a pound; the mass that would have to fly with it "
        "to take all of the work, over that of ten grains",
        varied="mass of the arrow, factor",
        values=(0.9, 0.8, 0.7, 0.6),
        at=0.8,
        show_value="factor",
        measured="virtual mass over that of ten grains a pound",
        show_measure="ratio",
        low=0.95,
        high=1.05,
        target=1.0,
        loose=0.15,
        trial=lighter_arrow,
        why="a light arrow leaves earlier, while limbs and string still move, and more of the "
        "work stays in them",
    ),
    Rule(
        name="low_brace",
        words="A lower brace height makes a bow faster.",
        label=COMMON_PRACTICE,
        study="strung lower by so much, the same draw length and the same arrow",
        varied="brace height lowered by",
        values=(0.5 * INCH, INCH, 1.5 * INCH, 2.0 * INCH),
        at=INCH,
        show_value="length",
        measured="gain in the arrow's speed",
        show_measure="per cent",
        low=0.0,
        high=np.inf,
        target=None,
        loose=0.0,
        trial=lower_brace,
        why="the arrow is pushed over a longer way, and the draw weight hardly changes",
    ),
)
