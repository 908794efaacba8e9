"""Rules about crown, reflex, the belly and the tips."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.limb_load import drawn_stress
from limbfe.frames import Array
from limbfe.stave.reshape import reshaped
from limbfe.stave.stave import with_columns
from limbfe.studies.compare.measures import bow_measures, stored_energy
from limbfe.studies.compare.scaling import scale_to
from limbfe.studies.rules.family import limb_share
from limbfe.studies.rules.rule import COMMON_PRACTICE, Rule
from limbfe.studies.rules.tried import (
    bending,
    drawn,
    elastic_weight,
    narrowed_tips,
    refined,
    rise,
    weight,
)
from limbfe.units import unit_factor

INCH, MILLIMETRE = unit_factor("in", "length"), unit_factor("mm", "length")
STIFFER = 1.3
"""Bending stiffness of the narrowed tips over what it was."""


def crown(bow: SolvedBow, height: float) -> dict[str, float]:
    """Arch a flat back to a height (share of the thickness) and bring it to the same weight."""
    setup = bow.model.setup
    flat = _flat(setup)
    width, thickness = float(setup.stave.width.max()), float(np.median(setup.stave.thickness))
    sag = height * thickness
    radius = 0.5 * sag + width**2 / (8.0 * sag)
    arched = replace(setup, stave=with_columns(setup.stave, crown=radius))
    same = scale_to(arched, draw_weight=weight(flat))
    return {
        "measure": _tension(same.solved) / _tension(flat) - 1.0,
        "thickness_ratio": same.factor,
        "crown_radius_over_width": radius / width,
    }


@lru_cache(maxsize=2)
def _flat(setup: BowSetup) -> SolvedBow:
    return drawn(setup, with_columns(setup.stave, crown=np.inf))


def _tension(bow: SolvedBow) -> float:
    """Return the largest tension along the skin of the bending limbs."""
    _, skin = drawn_stress(bow)
    return float(skin.stress[bending(bow), :, 0].max())


def reflex(bow: SolvedBow, depth: float) -> dict[str, float]:
    """Give both tips more reflex, in a curve that grows with the square of the way out."""
    setup = bow.model.setup
    share = np.maximum(limb_share(setup.stave, setup.stave.x), 0.0)
    stave = replace(setup.stave, reflex=setup.stave.reflex + depth * share**2)
    other = drawn(setup, stave)
    plain, bent = (elastic_weight(setup, one) for one in (setup.stave, stave))
    before, after = bow_measures(bow), bow_measures(other)
    gain = after.draw_weight / before.draw_weight - 1.0
    return {
        "measure": gain * INCH / depth,
        "gain": gain,
        "per_inch_without_yielding": (bent / plain - 1.0) * INCH / depth,
        "energy_gain": after.energy / before.energy - 1.0,
        "strain_gain": after.peak_strain / before.peak_strain - 1.0,
    }


def belly(bow: SolvedBow, depth: float) -> dict[str, float]:
    """Take wood off the belly over the middle third of both limbs."""
    setup = bow.model.setup
    stave = refined(setup.stave)
    taken = depth * _middle_third(limb_share(stave, stave.x))
    lighter = drawn(setup, reshaped(stave, thickness=stave.thickness - taken))
    before, after = bow_measures(bow), bow_measures(lighter)
    middle = float(np.interp(0.5, *_upper(stave.x, stave.thickness, limb_share(stave, stave.x))))
    loss = 1.0 - after.draw_weight / before.draw_weight
    return {
        "measure": loss * MILLIMETRE / depth,
        "loss": loss,
        "loss_over_share_of_thickness": loss / (depth / middle),
        "strain_gain": after.peak_strain / before.peak_strain - 1.0,
    }


def _middle_third(share: Array) -> Array:
    """Return 1 over the middle third of the limb, faded out over a tenth on both sides."""
    return rise(share, 0.28, 0.38) * (1.0 - rise(share, 0.62, 0.72))


def _upper(x: Array, column: Array, share: Array) -> tuple[Array, Array]:
    return share[x > 0.0], column[x > 0.0]


def stiff_tips(bow: SolvedBow, narrowing: float) -> dict[str, float]:
    """Make the outer quarter narrower and stiffer, then bring the bow to the same weight."""
    setup = bow.model.setup
    other = replace(setup, stave=narrowed_tips(refined(setup.stave), narrowing, STIFFER))
    scaled = scale_to(other, draw_weight=weight(bow)).solved
    before, after = bow_measures(bow), bow_measures(scaled)
    energy = stored_energy(scaled) / stored_energy(bow)
    strain = after.peak_strain / before.peak_strain
    return {
        "measure": energy / strain - 1.0,
        "energy_gain": energy - 1.0,
        "work_gain": after.energy / before.energy - 1.0,
        "strain_gain": strain - 1.0,
        "outer_mass_gain": after.mass_outer_third / before.mass_outer_third - 1.0,
    }


RULES = (
    Rule(
        name="crown",
        words="A crowned back works harder than a flat one of the same draw weight.",
        label=COMMON_PRACTICE,
        study="the same limb with a flat and with an arched back, made as thick as the same draw "
        "weight asks for",
        varied="height of the arch, share of the thickness",
        values=(0.3, 0.2, 0.1, 0.05),
        at=0.3,
        show_value="share",
        measured="rise of the largest tension on the back",
        show_measure="per cent",
        low=0.02,
        high=np.inf,
        target=None,
        loose=0.0,
        trial=crown,
        why="the arch moves the neutral plane towards the belly, only its middle strip lies far "
        "out, and the limb must be thicker for its weight; a slight arch can be lost in what it "
        "moves along the limb",
    ),
    Rule(
        name="reflex",
        words="An inch (25 mm) of reflex adds a twentieth to the draw weight.",
        label=COMMON_PRACTICE,
        study="both tips get more reflex, the same brace height and draw length kept",
        varied="reflex added",
        values=(0.4 * INCH, INCH, 2.0 * INCH, 3.0 * INCH),
        at=INCH,
        show_value="length",
        measured="gain in draw weight per inch",
        show_measure="per cent",
        low=0.04,
        high=0.06,
        target=0.05,
        loose=0.03,
        trial=reflex,
        why="the limbs are bent farther at every draw length by the reflex over the way the tips "
        "travel, and a yielding belly gives part of it back",
    ),
    Rule(
        name="belly",
        words="One millimetre off the belly over the middle third of both limbs takes a tenth off "
        "the draw weight.",
        label=COMMON_PRACTICE,
        study="the belly is lowered in the middle third of both limbs, fading out at both ends",
        varied="depth taken off",
        values=(0.2e-3, 0.5e-3, 1e-3, 2e-3),
        at=1e-3,
        show_value="length",
        measured="loss of draw weight per millimetre",
        show_measure="per cent",
        low=0.08,
        high=0.12,
        target=0.10,
        loose=0.05,
        trial=belly,
        why="the loss is three times the share of the thickness, times the share of the bending "
        "energy that the middle third holds: a thin limb feels a millimetre more",
    ),
    Rule(
        name="tips",
        words="Narrow stiff tips gain energy without strain.",
        label=COMMON_PRACTICE,
        study="the outer quarter is narrowed and thickened to 1.3 times its stiffness, then the "
        "whole limb is brought to the same draw weight",
        varied="width of the tips, factor",
        values=(0.9, 0.8, 0.65, 0.5),
        at=0.65,
        show_value="factor",
        measured="gain in stored energy per peak strain",
        show_measure="per cent",
        low=0.0,
        high=np.inf,
        target=None,
        loose=0.0,
        trial=stiff_tips,
        why="what the tips no longer bend the rest of the limb bends more; lighter tips "
        "are what is won, which the shot feels and the draw does not",
    ),
)
