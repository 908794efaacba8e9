"""The way of a strung bow from equilibrium to equilibrium, whatever is prescribed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from limbfe.beam.bow import Bow
from limbfe.beam.equilibrium.newton import DEEPER, GOING, MAX_ITERATIONS, SETTLED, iterate
from limbfe.beam.equilibrium.sections import FollowedSections, SectionLaw, element_resultants
from limbfe.beam.equilibrium.state import BowState, path_of
from limbfe.beam.limbs.placing import lay_out
from limbfe.beam.model import (
    BRACED,
    DRAW,
    POINT,
    PULL,
    TENSION,
    Bed,
    Equilibrium,
    Model,
    Path,
    Task,
    Work,
    new_work,
    tip_unknown,
)
from limbfe.beam.string.course import part_lengths
from limbfe.frames import Array

SMALLEST_PART = 1e-3
"""Part of a step that is still tried before giving up."""
_MOST_BEHIND = 4
"""Equilibria a guess is made from; more would carry their rounding on."""
_LONGEST_GUESS = 2.5
"""A step more than this many times as long as the one before starts from where it stands."""
_SPARE = 1
"""Nodes kept beyond those the string acts on, so that few passes ask for more."""
_MOST_CHANGES = 5
"""Times that parts of a string may go slack or taut before an equilibrium is given up."""


class Follower(Protocol):
    """What depends on the shape and is asked again at every pass: sections that yield."""

    def follow(self, model: Model, path: Path) -> tuple[Model, float]:
        """Return the model at the shape of `path`, and how far that is from consistent.

        The residual is a share like that of `limbfe.beam.equilibrium.newton.TOLERANCE`.
        """


class Way:
    """A bow on its way; elastic sections, or such as follow a law.

    Parameters
    ----------
    model : Model
    path : Path
        Where it starts; kept.
    at, closing : float
        What is prescribed there (draw length, brace height...) and the closing parameter.
    sections : FollowedSections, optional
        None for elastic sections, for which the model's stiffness is all.
    taut : bool
        Whether an equilibrium with a slack part of the string counts as none.

    Attributes
    ----------
    went_slack : bool
        Whether the last attempt failed since a part would have to push.
    residuals : tuple of float
        Of the last attempt.
    """

    def __init__(
        self,
        model: Model,
        path: Path,
        at: float,
        *,
        closing: float = 1.0,
        sections: FollowedSections | None = None,
        taut: bool = True,
    ) -> None:
        self.model, self.path, self.at, self.closing = model, path, at, closing
        self.sections, self.taut, self.went_slack = sections, taut, False
        self.strains = np.empty(0) if sections is None else sections.strains
        self.residuals: tuple[float, ...] = ()
        self.followers: list[Follower] = [] if sections is None else [sections]
        self._work, self._least = _room(model)
        self._behind: list[tuple[float, Array]] = []

    def remember(self, at: float, path: Path, strains: Array) -> None:
        """Let guesses be made from one more equilibrium, on the same string."""
        twist, _ = element_resultants(self.model, path)
        self._behind.append((at, _joined(twist, strains, path.border)))

    def lie_down(self, bed: Bed) -> None:
        """Let the string lie on a bed from here on."""
        self.model = self.model._replace(bed=bed)

    def start_anew(self, at: float) -> None:
        """Prescribe something else from here on, which now has the value `at`."""
        self.at, self._behind = at, self._behind[-1:]
        self._behind = [(at, known) for _, known in self._behind]

    def lead(self, control: int, target: float, *, closing: float = 1.0) -> Equilibrium | None:
        """Go to a prescribed value, at once or in as many parts as it takes; None where none help.

        Where the last equilibrium on the way was is told by `at` and `path`.
        """
        start, opened = self.at, self.closing
        done, size = 0.0, 1.0
        while True:
            part = min(1.0, done + size)
            task = Task(
                control, start + part * (target - start), opened + part * (closing - opened)
            )
            point = self._step(task)
            if point is not None and part == 1.0:
                return point
            if point is not None:
                done = part
                continue
            size *= 0.5
            if size < SMALLEST_PART or (target == start and closing == opened):
                return None

    def _step(self, task: Task) -> Equilibrium | None:
        """Go to one equilibrium, or stay and return None."""
        guess = self._guess(task.target)
        found = None if guess is None else self._settle(*guess, task)
        if found is None:
            found = self._settle(self.path.copy(), self.strains, task)
        if found is None:
            return None
        self.at, self.closing, self.path = task.target, task.closing, found.path
        if found.strains is not None:
            self.strains = found.strains
        known = (task.target, _joined(found.twist, self.strains, found.path.border))
        self._behind = [*self._behind[1 - _MOST_BEHIND :], known]
        return found

    def _guess(self, at: float) -> tuple[Path, Array] | None:
        """Return path and strains on the polynomial through the last equilibria."""
        behind = self._behind[-_MOST_BEHIND:]
        values = [known[0] for known in behind]
        distinct = len(set(values)) == len(values) > 1
        if not distinct or abs(at - values[-1]) > _LONGEST_GUESS * abs(values[-1] - values[-2]):
            return None
        joined = np.zeros_like(behind[0][1])
        for weight, (_, known) in zip(_lagrange(values, at), behind, strict=True):
            joined += weight * known
        border, twist = len(self.path.border), self.model.offset.size
        guess = self.path.copy()
        guess.border[:] = joined[:border]
        bent = joined[border : border + twist].reshape(-1, 6)
        lay_out(guess.rotations, guess.positions, bent, self.model.lower, self.model.upper)
        return guess, joined[border + twist :].reshape(self.strains.shape)

    def _settle(self, path: Path, strains: Array, task: Task) -> Equilibrium | None:
        """Iterate until it is known which parts of the string carry something."""
        self.went_slack = False
        for _ in range(_MOST_CHANGES):
            found = self._iterate(path, strains, task)
            if found is None or (task.control == DRAW and path.border[POINT] < self.model.point[0]):
                # the hand's distance to the string is the same from behind, where Newton may jump
                return None
            slack, pushes = path.slack > 0, path.border[TENSION:PULL] < 0.0
            if not (slack | pushes).any():
                return found
            if self.taut or task.control in BRACED:
                self.went_slack = True
                return None
            changed = pushes | (slack & (part_lengths(self.model, path) > path.string))
            if not changed.any():
                return found
            path.slack[changed] = ~slack[changed]
            path.border[TENSION:PULL][changed] = 0.0
            strains = self.strains if found.strains is None else found.strains
        return None

    def _keep(self, nodes: int) -> bool:
        """Keep more nodes, on which the string acts, and some to spare; whether limbs have them."""
        model = self.model
        most = min(model.lower, len(model.length) - model.upper)
        if nodes > most:
            return False
        self.model = model._replace(kept=min(nodes + _SPARE, most))
        self._work, self._least = _room(self.model)
        return True

    def _iterate(self, path: Path, strains: Array, task: Task) -> Equilibrium | None:
        """Make `path`, in place, and the strains an equilibrium together."""
        if self.sections is not None:
            self.sections.begin(strains)
        residuals = np.empty(MAX_ITERATIONS)
        passes = 1 if self.followers else MAX_ITERATIONS
        status, done, pivots, model = GOING, 0, 0, self.model
        while status in (GOING, DEEPER) and done < MAX_ITERATIONS:
            if status == DEEPER and not self._keep(pivots):
                break
            model, gap = self.model, 0.0
            for follower in self.followers:
                model, out = follower.follow(model, path)
                gap = max(gap, out)
            left = min(passes, MAX_ITERATIONS - done)
            status, count, pivots = iterate(
                model, path, self._work, task, gap, left, residuals[done:]
            )
            done += count
        self.residuals = tuple(residuals[:done].tolist())
        # a string that could not be laid leaves numbers of no equilibrium
        if status != SETTLED:
            return None
        twist, _ = element_resultants(model, path)
        answered = self.sections
        return Equilibrium(
            at=task.target,
            path=path,
            twist=twist,
            strains=None if answered is None else answered.strains,
            resultants=None if answered is None else answered.forces,
            residuals=self.residuals,
            pivots=pivots,
            symmetric=self._work.symmetric.copy(),
            least=self._work.reduced[self._least],
        )


def way_on(
    bow: Bow,
    state: BowState,
    *,
    law: SectionLaw | None = None,
    behind: Sequence[BowState] = (),
    taut: bool = True,
) -> Way:
    """Return the way on from a state, braced or drawn, with states `behind` it on its string."""
    path, at = path_of(bow, state)
    strains = np.array(state.strains)
    sections = None if law is None else FollowedSections(bow, law, strains)
    way = Way(bow.model, path, at, sections=sections, taut=taut)
    for other in (*behind[1 - _MOST_BEHIND :], state):
        there, place = path_of(bow, other)
        way.remember(place, there, np.empty(0) if law is None else other.strains)
    return way


def _room(model: Model) -> tuple[Work, tuple[NDArray[np.intp], ...]]:
    """Return scratch arrays, and where in the reduced system string and tips stand."""
    work = new_work(model)
    least = [tip_unknown(model.kept, i) for i in range(len(work.small))]
    return work, np.ix_(least, least)


def _joined(twist: Array, strains: Array, border: Array) -> Array:
    return np.concatenate([border, twist.ravel(), strains.ravel()])


def _lagrange(values: Sequence[float], at: float) -> list[float]:
    """Return the weights at one place of the polynomial through some values."""
    weights = []
    for here in values:
        weight = 1.0
        for other in values:
            if other != here:
                weight *= (at - other) / (here - other)
        weights.append(weight)
    return weights
