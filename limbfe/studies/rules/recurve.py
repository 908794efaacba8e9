"""Rules about tips bent to the back, on which the braced string lies."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.solve import SolvedBow, curve_of
from limbfe.errors import ConvergenceError
from limbfe.frames import Array
from limbfe.stave.stave import Stave
from limbfe.studies.compare.measures import stored_energy
from limbfe.studies.compare.scaling import scaled
from limbfe.studies.rules.family import limb_share
from limbfe.studies.rules.rule import COMMON_PRACTICE, Rule
from limbfe.studies.rules.tried import drawn, refined, weight
from limbfe.studies.thickness_factor import CUBE
from limbfe.units import unit_factor

INCH = unit_factor("in", "length")
OUTER = 0.75
"""Share of the limb from which on it is bent to the back."""
ROUNDS, ALIKE = 4, 0.01
"""Thickness is brought to the straight bow's weight within this share; energies are compared per
draw weight, which takes the rest out."""


def recurve_energy(bow: SolvedBow, depth: float) -> dict[str, float]:
    """Recurve both tips by a depth (m), and compare the energy at the same draw weight."""
    straight, bent = _pair(bow, depth)
    energy = [stored_energy(one) / weight(one) for one in (straight, bent)]
    return {
        "measure": energy[1] / energy[0] - 1.0,
        "weight_ratio": weight(bent) / weight(straight),
        "lies_m": float(bent.braced.string_lies.max()),
    }


def recurve_stack(bow: SolvedBow, depth: float) -> dict[str, float]:
    """Recurve both tips by a depth (m), and compare what the end of the draw adds."""
    straight, bent = _pair(bow, depth)
    rise = [_last_rise(one) for one in (straight, bent)]
    return {
        "measure": rise[1] / rise[0] - 1.0,
        "last_eighth_straight": rise[0],
        "last_eighth_recurved": rise[1],
    }


def recurved(stave: Stave, depth: float) -> Stave:
    """Return a stave whose outer quarters bend to the back, the tips so deep (m), a parabola."""
    out = np.clip((limb_share(stave, stave.x) - OUTER) / (1.0 - OUTER), 0.0, None)
    bent: Array = depth * out**2
    return replace(stave, reflex=bent)


@lru_cache(maxsize=2)
def _pair(bow: SolvedBow, depth: float) -> tuple[SolvedBow, SolvedBow]:
    """Return the bow with straight limbs, and with recurved tips at the same draw weight.

    Raises
    ------
    ConvergenceError
        If that weight is not met.
    """
    setup = bow.model.setup
    plain = refined(setup.stave)
    straight = drawn(setup, replace(plain, reflex=np.zeros_like(plain.x)))
    given: BowSetup = replace(setup, stave=recurved(plain, depth))
    factor = 1.0
    for _ in range(ROUNDS):
        bent = drawn(given, scaled(given, factor).stave)
        gap = weight(straight) / weight(bent)
        if abs(gap - 1.0) < ALIKE:
            return straight, bent
        factor *= gap ** (1.0 / CUBE)
    raise ConvergenceError(f"{setup.title}: the recurved bow is not brought to the same weight")


def _last_rise(bow: SolvedBow) -> float:
    """Return the share of the draw weight that the last eighth of the draw adds."""
    curve = curve_of(bow.braced, bow.states)
    return curve.last_eighth[1] / float(curve.force[-1])


STUDY = (
    "limbs straight, and with the outer quarter bent to the back, made as thick as the same draw "
    "weight asks for; the same outline, length, brace height and draw length"
)

RULES = (
    Rule(
        name="recurve_energy",
        words="A recurve stores more energy than a straight bow of the same draw weight.",
        label=COMMON_PRACTICE,
        study=STUDY,
        varied="how far the tips stand back",
        values=(3.0 * INCH, 2.0 * INCH, INCH),
        at=2.0 * INCH,
        show_value="length",
        measured="gain in stored energy",
        show_measure="per cent",
        low=0.02,
        high=np.inf,
        target=None,
        loose=0.0,
        trial=recurve_energy,
        why="the limbs are bent farther when braced, and the string, lying on the tips, acts on a "
        "shorter limb at first: the pull rises early and stays",
    ),
    Rule(
        name="recurve_stack",
        words="A recurve draws smoother: it stacks less at the end than a straight bow.",
        label=COMMON_PRACTICE,
        study=STUDY,
        varied="how far the tips stand back",
        values=(3.0 * INCH, 2.0 * INCH, INCH),
        at=2.0 * INCH,
        show_value="length",
        measured="change in what the last eighth of the draw adds",
        show_measure="per cent",
        low=-np.inf,
        high=-0.05,
        target=None,
        loose=0.0,
        trial=recurve_stack,
        why="the tip points more across the string at full draw, so that the string keeps its "
        "lever on the limb",
    ),
)
