"""Why a draw weight cannot be had, and the nearest one that can, in one sentence."""

from __future__ import annotations

import math

import numpy as np

from limbfe.errors import CaseError
from limbfe.studies.size.blank import Blank
from limbfe.studies.size.trial import Trial
from limbfe.units import IMPERIAL, both, both_forces, both_lengths

LIGHTEST = 20.0
"""N; no bow is drawn with less: a slip of the number or its unit."""
HEAVIER = 2.5
"""A draw weight of more than this many times the present one means another bow, or a slip."""


def possible(weight: float, *, at_least: bool = False) -> str:
    """Return a bound on the draw weight in words, rounded to the side that can be had."""
    rounded = math.ceil if at_least else math.floor
    pound_force, _ = IMPERIAL.scale("force")
    newtons, pounds = rounded(10.0 * weight) / 10.0, rounded(10.0 * weight / pound_force) / 10.0
    return f"{newtons:.1f} N ({pounds:.1f} lbf)"


def check_reach(weight: float, present: float) -> None:
    """Refuse a draw weight that is nothing like the bow's own.

    Raises
    ------
    CaseError
    """
    if weight < LIGHTEST:
        raise CaseError(
            f"--draw-weight {both_forces(weight)}: is less than any bow draws; check the number "
            "and its unit"
        )
    if weight > HEAVIER * present:
        raise CaseError(
            f"--draw-weight {both_forces(weight)}: this bow draws {both_forces(present)}, and no "
            f"blank has wood for {HEAVIER:g} times that; check the number and its unit"
        )


def not_enough_wood(weight: float, blank: Blank, thickness: object, nearest: float) -> CaseError:
    """Return the error of a design that is thicker than the blank."""
    lacking = blank.lacking(np.asarray(thickness))
    worst = int(np.argmax(lacking))
    return CaseError(
        f"--draw-weight {both_forces(weight)}: the blank has too little wood for it, "
        f"{both('length', float(lacking[worst]), figures=2)} too little {blank.place(worst)}; the "
        f"nearest possible is {possible(nearest)}: ask for that, or give --blank-allowance "
        "if the blank is thicker than the case says"
    )


def nothing_left(weight: float, blank: Blank, thickness: object, nearest: float) -> CaseError:
    """Return the error of a design that is thinner than the stave allows."""
    short = np.where(blank.free, blank.least - np.asarray(thickness), -np.inf)
    worst = int(np.argmax(short))
    stays = both_lengths(float(blank.least[worst]))
    nearest_words = possible(nearest, at_least=True)
    return CaseError(
        f"--draw-weight {both_forces(weight)}: the limb would be too thin for its sapwood, "
        f"backing or outline {blank.place(worst)} ({stays} must stay); "
        f"the nearest possible is {nearest_words}: ask for that, or make the limbs narrower"
    )


def breaks_first(weight: float, trial: Trial, nearest: float) -> CaseError:
    """Return the error of a design whose clear wood breaks before full draw."""
    worst = int(np.argmax(trial.breaking))
    x = float(trial.x[worst])
    draw = both_lengths(trial.solved.full_draw.draw_length)
    return CaseError(
        f"--draw-weight {both_forces(weight)}: such a bow breaks before {draw}: clear wood "
        f"{both_lengths(abs(x))} up the {'upper' if x > 0 else 'lower'} limb would be at "
        f"{trial.breaking[worst]:.0%} of its strength; the nearest possible is "
        f"{possible(nearest)}: ask for that, draw less, or make the limbs wider"
    )
