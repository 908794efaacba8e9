"""One bow drawn for a study: its weight, and how hard clear wood works at every station."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.rates.derivatives import draw_derivatives
from limbfe.analysis.wood.known_draws import known_draws
from limbfe.analysis.wood.limb_load import drawn_stress, limb_load
from limbfe.analysis.wood.stress import WoodStress, clear_stations
from limbfe.analysis.zones.verdicts import judge_defects
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.errors import ConvergenceError
from limbfe.frames import Array, read_only
from limbfe.units import Words

COARSE = 0.5
"""Fineness of the section mesh while a design is sought; the answer is computed at the case's."""
STEPS = 3
"""A first draw only loads, so its end does not depend on the number of steps."""


def unheard(words: Words) -> None:
    """Tell nobody how a study goes on."""


@contextmanager
def of_bow(words: str) -> Iterator[None]:
    """Say of which bow a failed solve is told: `words` come before the message."""
    try:
        yield
    except ConvergenceError as error:
        raise ConvergenceError(
            f"{words}: {error}",
            draw_length=error.draw_length,
            iteration=error.iteration,
            residuals=error.residuals,
            last_state=error.last_state,
        ) from error


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
    open : ndarray of bool, shape (S,)
        Stations outside the stiff grip without a knot in their section.
    used : ndarray, shape (S,)
        Worst strength used in clear wood (no knot, no decay) of each section; across a knot that
        of the clear wood on both sides.
    breaking : ndarray, shape (S,)
        The same without compression, which yields and does not break.
    """

    solved: SolvedBow
    force: float
    x: Array
    open: NDArray[np.bool_]
    used: Array
    breaking: Array

    def used_at(self, x: Array) -> Array:
        """Return the strength used at stations, shape of `x`; in the grip that at its edge."""
        values = np.zeros(len(x))
        for sign in (-1.0, 1.0):
            on = self.open & (sign * self.x > 0.0)
            here = np.interp(x, self.x[on], self.used[on])
            values = np.where(sign * x >= 0.0, np.maximum(values, here), values)
        return values

    def along(self, x: Array) -> Array:
        """Return the strength used at stations (n,) for a picture; nan in the stiff grip."""
        half_grip = self.solved.model.setup.stave.half_grip
        return np.where(np.abs(x) >= half_grip, self.used_at(x), np.nan)

    def reading(self, x: Array) -> Array:
        """Return weights (n, S) of the open stations that read the peak around stations `x`.

        Around a station, `x` of shape (n,) increasing, is half the way to its neighbours outside
        the stiff grip.  Where no open Gauss station lies there, the two beside it are read.
        """
        weights = np.zeros((len(x), len(self.x)))
        half_grip = self.solved.model.setup.stave.half_grip
        outside = np.flatnonzero(np.abs(x) >= half_grip)
        middles = 0.5 * (x[outside][1:] + x[outside][:-1])
        nearest = np.full(len(self.x), -1)
        nearest[self.open] = outside[np.searchsorted(middles, self.x[self.open])]
        for k in range(len(x)):
            here = np.flatnonzero(nearest == k)
            if here.size:
                weights[k, here[self.used[here].argmax()]] = 1.0
            else:
                weights[k] = self._beside(float(x[k]))
        return weights

    def _beside(self, x: float) -> Array:
        """Return weights (S,) of the two open stations beside `x` on its limb."""
        side = np.flatnonzero(self.open & ((self.x < 0.0) == (x < 0.0)))
        basis = np.eye(len(self.x))[side]
        return np.stack([np.interp(x, self.x[side], column) for column in basis.T])

    def peaks(self, x: Array) -> Array:
        """Return the strength used where it is highest around each station, shape of `x`."""
        return self.reading(x) @ self.used


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
    fineness = min(setup.analysis.fineness, COARSE) if coarse else setup.analysis.fineness
    setup = adjust(setup, analysis={"fineness": fineness}, drawing={"steps": STEPS})
    return look_at(exercised_bow(setup, beyond=False))


def look_at(solved: SolvedBow) -> Trial:
    """Return the figures of a solved bow."""
    stations = solved.model.stations
    inside, skin = drawn_stress(solved)
    x, clear = stations.x, clear_stations(stations)
    used = np.maximum(_worst(skin, breaking=False), _worst(inside, breaking=False))
    breaks = np.maximum(_worst(skin, breaking=True), _worst(inside, breaking=True))
    return Trial(
        solved=solved,
        force=solved.full_draw.draw_force,
        x=x,
        open=clear & stations.bends,
        used=read_only(np.interp(x, x[clear], used[clear])),
        breaking=read_only(np.interp(x, x[clear], breaks[clear])),
    )


def judge_zones(trial: Trial) -> tuple[ZoneVerdict, ...]:
    """Return the verdict on every knot and patch of a trial's bow."""
    solved = trial.solved
    return judge_defects(solved.model, limb_load(solved), known_draws(solved))


def used_derivatives(trial: Trial, x: Array) -> tuple[Array, Array]:
    """Return exact derivatives by the thickness at every station of the stave (s of them).

    Parameters
    ----------
    trial : Trial
    x : ndarray, shape (n,), m
        Stations around which the highest strength used is read.

    Returns
    -------
    used : ndarray, shape (n, s), 1/m
        Of the `peaks`.
    force : ndarray, shape (s,), N/m
        Of the draw weight.
    """
    found = draw_derivatives(trial.solved.first_pull, ("thickness",), spots="stations")
    used = trial.reading(x)[:, trial.open] @ found.strength_used["thickness"].T
    return used, found.force["thickness"]


def weight_derivatives(trial: Trial) -> Array:
    """Return exact derivatives (s,), N/m, of the draw weight by the thickness at every station."""
    return draw_derivatives(trial.solved.first_pull, ("thickness",)).force["thickness"]


def _worst(stress: WoodStress, *, breaking: bool) -> Array:
    used = stress.used
    worst = np.maximum.reduce([used.tension, used.shear, used.across]) if breaking else used.worst
    highest: Array = np.where(stress.clear, worst, 0.0).max(axis=1)
    return highest
