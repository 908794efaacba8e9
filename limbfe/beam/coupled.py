"""Newton's method on a bow and its sections together, from one equilibrium to the next."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.chain import effective_stiffness
from limbfe.beam.draw import start_of_draw
from limbfe.beam.element import resultants
from limbfe.beam.model import DRAW, Model, Path, new_work
from limbfe.beam.newton import (
    MAX_ITERATIONS,
    NEWTON,
    TOLERANCE,
    advance,
    lay_out,
    linearise,
)
from limbfe.beam.state import BowState
from limbfe.frames import Array

SectionLaw = Callable[[Array], tuple[Array, Array]]
"""Strains (n - 1, 2, 6) to resultants (n - 1, 2, 6) and their tangent (n - 1, 2, 6, 6)."""

_MOST_BEHIND = 4
"""Equilibria a guess is made from; more would carry their rounding on."""
_LONGEST_GUESS = 2.5
"""A step more than this many times as long as the one before starts from where it stands."""


class Equilibrium(NamedTuple):
    """An equilibrium of the bow and its sections, in the bow's own frame.

    `at` is the prescribed value, `twist` that of the elements (m, 6); `pivots` and `symmetric` are
    what `limbfe.beam.newton.linearise` left.
    """

    at: float
    path: Path
    twist: Array
    strains: Array
    resultants: Array
    residuals: tuple[float, ...]
    pivots: int
    symmetric: Array


class CoupledBow:
    """A bow whose sections follow a law, on its way from equilibrium to equilibrium.

    It starts from a state; states `behind` it on the same string help to guess the next one.

    Attributes
    ----------
    law : callable
        May be exchanged between steps.
    at : float
        Prescribed value of the last equilibrium; to begin with the draw length of the state, unless
        something else is going to be prescribed.
    path : Path
    strains : ndarray, shape (n - 1, 2, 6)
    residuals : tuple of float
        Of the last attempt.
    """

    def __init__(
        self,
        bow: Bow,
        state: BowState,
        law: SectionLaw,
        *,
        at: float | None = None,
        behind: Sequence[BowState] = (),
    ) -> None:
        self.bow, self.law = bow, law
        self.path, start = start_of_draw(bow, state)
        self.at = start if at is None else at
        self.strains = np.array(state.strains)
        self.residuals: tuple[float, ...] = ()
        self._transport = np.array(bow.chain.transport)
        # strains at the Gauss points (m, 12) to the mean that does their work
        both = bow.chain.transport.transpose(0, 3, 1, 2)
        self._average = 0.5 * both.reshape(len(both), 6, -1)
        self._rest = bow.chain.twist / bow.chain.length[:, None]
        self._compliance = np.empty_like(bow.chain.stiffness)
        self._element = np.empty((len(bow.chain.length), 6, 6))
        self._scale = np.array([1.0] * 3 + [bow.model.size] * 3)
        self._work = new_work(len(self.path.positions))
        known = [self._known(other) for other in (*behind[1 - _MOST_BEHIND :], state)]
        self._behind = [*known[:-1], (self.at, known[-1][1])]

    def _known(self, state: BowState) -> tuple[float, Array]:
        path, at = start_of_draw(self.bow, state)
        twist, _ = self._mean(self.bow.model, path)
        return at, _joined(twist, state.strains, path.border)

    def step(self, control: int, at: float) -> Equilibrium | None:
        """Go to the equilibrium with a prescribed value, or stay where it is and return None."""
        guess = self._guess(at)
        found = None if guess is None else self._converge(*guess, control, at)
        if found is None:
            here = Path(*(array.copy() for array in self.path))
            found = self._converge(here, self.strains, control, at)
        if found is not None:
            self.at, self.path, self.strains = at, found.path, found.strains
            known = (at, _joined(found.twist, found.strains, found.path.border))
            self._behind = [*self._behind[1 - _MOST_BEHIND :], known]
        return found

    def _guess(self, at: float) -> tuple[Path, Array] | None:
        """Return path and strains on the polynomial through the last equilibria."""
        values = np.array([known[0] for known in self._behind])
        distinct = len(set(values)) == len(values) > 1
        if not distinct or abs(at - values[-1]) > _LONGEST_GUESS * abs(values[-1] - values[-2]):
            return None
        share = _lagrange(values, at)
        joined = share @ np.stack([known[1] for known in self._behind])
        cuts = np.cumsum([self._rest.size, self.strains.size])
        twist, strains, border = np.split(joined, cuts)
        rotations, positions = (array.copy() for array in self.path[:2])
        model = self.bow.model
        lay_out(rotations, positions, twist.reshape(-1, 6), model.lower, model.upper)
        guess = Path(rotations, positions, border, self.path.string.copy())
        return guess, strains.reshape(self.strains.shape)

    def _converge(
        self, path: Path, strains: Array, control: int, target: float
    ) -> Equilibrium | None:
        """Iterate `path`, in place, and the strains together."""
        residuals: list[float] = []
        # a step too long may leave double precision; the norm then says so
        with np.errstate(over="ignore", invalid="ignore"):
            found = self._iterate(path, strains, control, target, residuals)
        self.residuals = tuple(residuals)
        return found

    def _iterate(
        self, path: Path, strains: Array, control: int, target: float, residuals: list[float]
    ) -> Equilibrium | None:
        bow, work = self.bow, self._work
        for _ in range(MAX_ITERATIONS):
            forces, tangent = self.law(strains)
            model = self._linear(strains, forces, tangent)
            norm, pivots = linearise(model, path, work, control, target, 1.0)
            twist, mean = self._mean(model, path)
            gap = mean - forces
            scale = max(bow.model.force, float(np.abs(path.border[3:]).max()))
            norm = max(norm, float(np.abs(gap / self._scale).max()) / scale)
            residuals.append(norm)
            if not math.isfinite(norm) or pivots < 0:
                return None
            if norm < TOLERANCE:
                taut = min(path.border[3], path.border[4]) >= 0.0
                # compiled for the elastic draw, `turned_over` would be loaded for this alone
                turned = control == DRAW and path.border[0] < model.point[0]
                if turned or not taut:
                    return None
                symmetric, history = work.symmetric.copy(), tuple(residuals)
                return Equilibrium(target, path, twist, strains, forces, history, pivots, symmetric)
            advance(model, path, work, NEWTON, 1.0)
            gap = self._mean(model, path)[1] - forces
            strains = strains + (self._compliance @ gap[..., None])[..., 0]
        return None

    def _linear(self, strains: Array, forces: Array, tangent: Array) -> Model:
        """Linearise the law at the strains: ``S = K (twist/L - strain_0 - gap)``."""
        compliance, element = self._compliance, self._element
        effective_stiffness(np.ascontiguousarray(tangent), self._transport, compliance, element)
        plastic = strains - (compliance @ forces[..., None])[..., 0]
        mean = self._average @ plastic.reshape(len(element), -1, 1) + self._rest[..., None]
        offset = -(element @ mean)[..., 0]
        return self.bow.model._replace(stiffness=element, offset=offset)

    def _mean(self, model: Model, path: Path) -> tuple[Array, Array]:
        """Return the elements' twist and the resultants (m, 2, 6) in equilibrium with it."""
        twist, mean = np.empty_like(self._rest), np.empty_like(self._rest)
        resultants(
            path.rotations, path.positions, model.stiffness, model.offset, model.length, twist, mean
        )  # fmt: skip
        return twist, (self._transport @ mean[:, None, :, None])[..., 0]


def _joined(twist: Array, strains: Array, border: Array) -> Array:
    return np.concatenate([twist.ravel(), strains.ravel(), border])


def _lagrange(values: Array, at: float) -> Array:
    """Return the weights at one place of the polynomial through some values."""
    apart, ahead = values[:, None] - values, np.tile(at - values, (len(values), 1))
    np.fill_diagonal(apart, 1.0)
    np.fill_diagonal(ahead, 1.0)
    weights: Array = (ahead / apart).prod(axis=1)
    return weights
