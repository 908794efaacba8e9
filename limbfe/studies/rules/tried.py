"""What the trials of the rules share: figures of a drawn bow, changes along its limbs."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.bow.solve import SolvedBow, solve_elastic
from limbfe.analysis.wood.limb_load import drawn_stress
from limbfe.errors import GeometryError
from limbfe.frames import Array
from limbfe.stave.reshape import resampled, reshaped
from limbfe.stave.stave import Stave
from limbfe.studies.rules.family import limb_share


def drawn(setup: BowSetup, stave: Stave) -> SolvedBow:
    """Brace and draw the same bow with another stave."""
    return exercised_bow(replace(setup, stave=stave), beyond=False)


def weight(solved: SolvedBow) -> float:
    """Return the draw weight, N."""
    return float(solved.full_draw.draw_force)


@lru_cache(maxsize=8)
def elastic_weight(setup: BowSetup, stave: Stave) -> float:
    """Return the draw weight (N) of the same bow with another stave that does not yield."""
    return weight(solve_elastic(adjust(setup, stave=stave, drawing={"steps": 1})))


def bending(solved: SolvedBow) -> Any:
    """Return which stations lie on the limbs' bending length, ends left out, shape (S,)."""
    share = limb_share(solved.model.setup.stave, solved.model.stations.x)
    return (share >= 0.0) & (share <= 0.97)


def breaking(solved: SolvedBow) -> float:
    """Return the worst strength used in any way but crushing on the bending limbs."""
    here = bending(solved)
    return max(
        float(getattr(stress.used, mode)[here].max())
        for stress in drawn_stress(solved)
        for mode in ("tension", "shear", "across")
    )


def refined(stave: Stave, step: float = 0.015) -> Stave:
    """Return the same stave with stations at most `step` (m) apart, for changes in a short span."""
    count = int(np.ceil((stave.x[-1] - stave.x[0]) / step)) + 1
    x = np.union1d(stave.x, np.linspace(stave.x[0], stave.x[-1], count))
    x = x[np.concatenate([[True], np.diff(x) > 1e-6])]
    return resampled(stave, x)


def rise(x: Array, start: float, end: float) -> Array:
    """Return 0 before `start`, 1 after `end` and a smooth step between; they may be equal."""
    s = np.clip((x - start) / max(end - start, 1e-12), 0.0, 1.0)
    step: Array = s * s * (3.0 - 2.0 * s)
    return step


def narrowed_tips(stave: Stave, narrowing: float, stiffer: float) -> Stave:
    """Return the stave with its outer quarter narrower, and so thick that it is `stiffer` times as
    stiff there.

    Raises
    ------
    GeometryError
        If no room is left for a nock.
    """
    tip = rise(limb_share(stave, stave.x), 0.68, 0.80)
    width = stave.width * (1.0 - (1.0 - narrowing) * tip)
    deeper = 1.0 + ((stiffer / narrowing) ** (1.0 / 3.0) - 1.0) * tip
    if float(width.min()) < 6e-3:
        raise GeometryError("tips narrower than 6 mm: no room for a nock; narrow them less")
    return reshaped(stave, width=width, thickness=stave.thickness * deeper)
