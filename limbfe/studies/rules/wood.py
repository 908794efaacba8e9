"""Rules about sapwood, grain, and where a limb gives."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.limb_load import drawn_stress
from limbfe.stave.reshape import reshaped
from limbfe.stave.stave import with_columns
from limbfe.studies.compare.measures import bow_measures
from limbfe.studies.rules.family import limb_share
from limbfe.studies.rules.rule import COMMON_PRACTICE, Rule
from limbfe.studies.rules.tried import bending, breaking, drawn, refined, rise, weight
from limbfe.units import Length, Sentence

SAPWOOD_SHARE = 0.25
SAPWOOD_STIFFNESS = 0.9
"""Sapwood given to a bow that has none: share of the base's thickness, modulus over the
heartwood's (the middle of the family's range)."""
SPOT = 0.1
"""Length (m) of a thin spot, between the places where half of its depth is gone."""


def thin_sapwood(bow: SolvedBow, left: float) -> dict[str, float]:
    """Thin the sapwood over the outer third of both limbs, heartwood in its stead."""
    before = _with_sapwood(bow)
    setup = before.model.setup
    stave = refined(setup.stave)
    outer = rise(limb_share(stave, stave.x), 0.60, 0.70)
    thinner = replace(stave, sapwood=stave.sapwood * (1.0 - (1.0 - left) * outer))
    was, now = bow_measures(before), bow_measures(drawn(setup, thinner))
    change = abs(now.draw_weight / was.draw_weight - 1.0)
    rise_of_use = now.strength_used / was.strength_used - 1.0
    return {
        "measure": max(change, rise_of_use),
        "weight_change": now.draw_weight / was.draw_weight - 1.0,
        "strength_used_change": rise_of_use,
        "outer_mass_change": now.mass_outer_third / was.mass_outer_third - 1.0,
    }


def _with_sapwood(bow: SolvedBow) -> SolvedBow:
    return bow if bow.model.setup.stave.sapwood_wood is not None else _given_sapwood(bow)


@lru_cache(maxsize=2)
def _given_sapwood(bow: SolvedBow) -> SolvedBow:
    setup = bow.model.setup
    stave = setup.stave
    elastic = stave.heartwood.elasticity
    moduli = ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")
    softer = {name: SAPWOOD_STIFFNESS * getattr(elastic, name) for name in moduli}
    wood = replace(stave.heartwood, name="sapwood", elasticity=replace(elastic, **softer))
    depth = np.full_like(stave.x, SAPWOOD_SHARE * float(np.median(stave.thickness)))
    return drawn(setup, replace(stave, sapwood=depth, sapwood_wood=wood))


def run_out(bow: SolvedBow, slope: float) -> dict[str, float]:
    """Let the grain run out of the back at a slope."""
    setup = bow.model.setup
    sloping = drawn(setup, with_columns(setup.stave, run_out=float(np.arctan(slope))))
    before, after = breaking(bow), breaking(sloping)
    return {
        "measure": before / after,
        "strength_used_before": before,
        "strength_used_after": after,
        "weight_ratio": weight(sloping) / weight(bow),
    }


def weak_spot(bow: SolvedBow, depth: float) -> dict[str, float]:
    """Thin the limb over `SPOT` at a place drawn by lot and see where it is worked hardest."""
    setup = bow.model.setup
    stave = refined(setup.stave)
    at = _place(setup)
    distance = np.abs(stave.x - at)
    spot = depth * (1.0 - rise(distance, 0.25 * SPOT, 0.75 * SPOT))
    other = drawn(setup, reshaped(stave, thickness=stave.thickness * (1.0 - spot)))
    _, skin = drawn_stress(other)
    stations, here = other.model.stations, bending(other)
    x = stations.x
    used = np.where(here, skin.used.tension.max(axis=1), 0.0)
    fails = int(used.argmax())
    limb = here & (np.sign(x) == np.sign(x[fails]))
    curvature = other.full_draw.strains.reshape(-1, 6)[:, 4]
    bends = int(np.where(limb, curvature, -np.inf).argmax())
    thinnest = int(np.where(limb, stations.shapes.thickness, np.inf).argmin())
    length = abs(float(setup.stave.x[0 if x[fails] < 0.0 else -1]))
    return {
        "measure": float(used[bends] / used[fails]),
        "where_it_is_thinnest": float(used[thinnest] / used[fails]),
        "to_sharpest_bend": abs(float(x[fails] - x[bends])) / length,
        "to_thinnest": abs(float(x[fails] - x[thinnest])) / length,
        "hardest_at": abs(float(x[fails])) / length,
        "sharpest_bend_at": abs(float(x[bends])) / length,
    }


def _place(setup: BowSetup) -> float:
    """Return the station of the weak spot: the same for every depth on one bow."""
    stave = setup.stave
    rng = np.random.default_rng([int(1e6 * value) for value in (stave.x[-1], -stave.x[0])])
    side = stave.x[-1] if rng.random() < 0.5 else stave.x[0]
    return float(rng.uniform(0.25, 0.75) * side)


RULES = (
    Rule(
        name="sapwood",
        words="Sapwood thinned to half at the tips costs nothing.",
        label=COMMON_PRACTICE,
        study="the sapwood of the outer third is thinned, heartwood left in its stead so that the "
        "limb keeps its thickness; bows without sapwood are given some",
        varied="sapwood left, share",
        values=(0.75, 0.5, 0.25, 0.1),
        at=0.5,
        show_value="share",
        measured="change of draw weight, or rise of the worst strength used, whichever is more",
        show_measure="per cent",
        low=-np.inf,
        high=0.01,
        target=None,
        loose=0.0,
        trial=thin_sapwood,
        why="the outer third holds little of the bending energy, and trading one wood for another "
        "over a few millimetres changes its stiffness by a few per cent",
    ),
    Rule(
        name="run_out",
        words="Grain that runs out 1 in 10 halves the safety.",
        label=f"{COMMON_PRACTICE}; published bending strength at 1 in 10 is 81 %, impact strength "
        "62 % of straight grain: FPL, Wood Handbook, FPL-GTR-190 (2010), Table 5-12 (from memory)",
        study="the grain is tilted through the thickness, everything else kept; safety is strength "
        "over stress in any way but crushing",
        varied="slope of the grain",
        values=(1 / 40, 1 / 25, 1 / 15, 1 / 10, 1 / 7, 1 / 5),
        at=1 / 10,
        show_value="slope",
        measured="safety left",
        show_measure="share",
        low=0.45,
        high=0.55,
        target=0.5,
        loose=0.15,
        trial=run_out,
        why="tension across the grain is some thirty times weaker than along it and shear some "
        "ten times, so both come into play from a few degrees on; published bending tests keep "
        "81 % at 1 in 10 and 55 % at 1 in 5 (Wood Handbook, from memory)",
    ),
    Rule(
        name="where",
        words="A limb breaks where it bends most, not where it is thinnest.",
        label=COMMON_PRACTICE,
        study=Sentence(
            "each bow as it is tillered, and with a spot of {} thinned on the belly at a place "
            "drawn by lot; tension over strength along the back is compared",
            Length(SPOT),
        ),
        varied="depth of the thin spot, share of the thickness",
        values=(0.20, 0.10, 0.05, 0.0),
        at=0.0,
        show_value="share",
        measured="tension where it bends most over the worst of that limb",
        show_measure="share",
        low=0.95,
        high=1.0,
        target=None,
        loose=0.0,
        trial=weak_spot,
        why="strain is bend times the distance from the neutral plane, so in a limb that tapers in "
        "thickness the worst strain lies nearer to the grip than the sharpest bend",
    ),
)
