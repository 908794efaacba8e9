"""One bow drawn for a study: its weight, and how hard clear wood works at every station."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbfe.analysis.defects import judge_defects
from limbfe.analysis.results import DefectResult
from limbfe.analysis.settings import BowSetup
from limbfe.analysis.solve import SolvedBow, known_loading, solve_bow
from limbfe.analysis.stress import WoodStress, clear_stations, stress_inside, stress_on_skin
from limbfe.frames import Array, read_only

COARSE = 0.5
"""Fineness of the section mesh while a design is sought; the answer is computed at the case's."""
STEPS = 3
"""A first draw only loads, so its end does not depend on the number of steps."""


def unheard(words: str) -> None:
    """Tell nobody how a study goes on."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """What a study reads off one bow at full draw.

    Attributes
    ----------
    solved : SolvedBow
    force : float, N
        Draw weight.
    x : ndarray, shape (S,), m
        Gauss stations, lower tip to upper tip.
    used : ndarray, shape (S,)
        Worst strength used in clear wood (no knot, no decay) of each section; across a knot that
        of the clear wood on both sides.
    breaking : ndarray, shape (S,)
        The same without compression, which yields and does not break.
    """

    solved: SolvedBow
    force: float
    x: Array
    used: Array
    breaking: Array

    def used_at(self, x: Array) -> Array:
        """Return the strength used at stations, shape of `x`, that of the limb nearest to the grip.

        Sections in the stiff grip carry nothing and are left out.
        """
        bends = np.abs(self.x) >= 0.5 * self.solved.model.setup.stave.stiff_length
        side = [bends & (self.x < 0.0), bends & (self.x > 0.0)]
        lower, upper = (np.interp(x, self.x[one], self.used[one]) for one in side)
        return np.where(x == 0.0, np.maximum(lower, upper), np.where(x < 0.0, lower, upper))


def draw_trial(setup: BowSetup, *, coarse: bool) -> Trial:
    """Brace and draw a bow and look at its clear wood.

    Parameters
    ----------
    setup : BowSetup
    coarse : bool
        Use a coarser section mesh: draw weight within about 0.1 per cent, a third of the time.

    Raises
    ------
    ConvergenceError
        If there is no braced state or the draw cannot be finished.
    """
    fineness = min(setup.fineness, COARSE) if coarse else setup.fineness
    setup = replace(setup, fineness=fineness, draw_steps=STEPS)
    return look_at(solve_bow(setup, beyond=False))


def look_at(solved: SolvedBow) -> Trial:
    """Return the figures of a solved bow."""
    model = solved.model
    strains = solved.full_draw.strains.reshape(-1, 6)
    inside = stress_inside(model, solved.section, strains, solved.plastic[-1])
    skin = stress_on_skin(model, strains, inside)
    clear = clear_stations(model)
    used = np.maximum(_worst(skin, breaking=False), _worst(inside, breaking=False))
    breaks = np.maximum(_worst(skin, breaking=True), _worst(inside, breaking=True))
    return Trial(
        solved=solved,
        force=solved.full_draw.draw_force,
        x=model.x,
        used=read_only(np.interp(model.x, model.x[clear], used[clear])),
        breaking=read_only(np.interp(model.x, model.x[clear], breaks[clear])),
    )


def judge_zones(trial: Trial) -> tuple[DefectResult, ...]:
    """Return the verdict on every knot and patch of a trial's bow."""
    solved = trial.solved
    strains = solved.full_draw.strains.reshape(-1, 6)
    inside = stress_inside(solved.model, solved.section, strains, solved.plastic[-1])
    return judge_defects(solved.model, inside, strains, *known_loading(solved))


def _worst(stress: WoodStress, *, breaking: bool) -> Array:
    used = stress.used
    worst = np.maximum.reduce([used.tension, used.shear, used.across]) if breaking else used.worst
    highest: Array = np.where(stress.clear, worst, 0.0).max(axis=1)
    return highest
