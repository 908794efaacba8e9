"""Draw a bow whose sections follow a nonlinear law, by Newton's method on both at once."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.brace import string_height, string_lengths
from limbfe.beam.chain import effective_stiffness
from limbfe.beam.draw import start_of_draw
from limbfe.beam.element import resultants
from limbfe.beam.model import DRAW, HEIGHT, LENGTH, Model, Path, Work, new_record, new_work
from limbfe.beam.motion import move
from limbfe.beam.newton import MAX_ITERATIONS, NEWTON, TOLERANCE, advance, linearise, turned_over
from limbfe.beam.state import BowState, make_states
from limbfe.errors import ConvergenceError
from limbfe.frames import Array

SectionLaw = Callable[[Array], tuple[Array, Array]]
"""Strains (n - 1, 2, 6) to resultants (n - 1, 2, 6) and their tangent (n - 1, 2, 6, 6)."""


def draw_inelastic(
    bow: Bow, state: BowState, draw_length: float, law: SectionLaw, *, steps: int = 1
) -> BowState:
    """Lead a state on to another draw length with sections that follow `law`.

    Parameters
    ----------
    bow : Bow
    state : BowState
        Braced or drawn; its strains and string lengths are the start.
    draw_length : float
        m; may be shorter than the state's own, down to the braced one.
    law : callable
        Section law in the section axes of the Gauss points; what it remembers of the past is
        the caller's business, and must not change during the call.
    steps : int
        Parts the way is cut into; halved on where Newton fails.

    Returns
    -------
    BowState
        Its strains are those of the law; `strain_energy` is the elastic energy of the bow's own
        stiffness under these resultants.

    Raises
    ------
    ConvergenceError
        If the draw length cannot be reached.
    """
    path, start = start_of_draw(bow, state)
    section = _Sections(bow, state.strains, law)
    done, size = 0.0, 1.0 / steps
    residuals: tuple[float, ...] = ()
    while done < 1.0:
        at = min(1.0, done + size)
        trial, strains = Path(*(array.copy() for array in path)), section.strains.copy()
        converged, residuals = _newton(section, trial, DRAW, start + at * (draw_length - start))
        if converged:
            path, done = trial, at
            continue
        section.strains = strains
        size *= 0.5
        if size < 1e-3:
            reached = start + done * (draw_length - start)
            raise ConvergenceError(
                f"draw to {1e3 * draw_length:.1f} mm: no equilibrium was found beyond "
                f"{1e3 * reached:.1f} mm: the limbs give way, or string and limbs reach no "
                "further; draw less",
                draw_length=reached,
                iteration=len(residuals),
                residuals=residuals,
                last_state=state,
            )
    return section.state(path, DRAW, residuals, state.brace_height)


def brace_inelastic(
    bow: Bow,
    state: BowState,
    law: SectionLaw,
    *,
    height: float | None = None,
    length: float | None = None,
) -> BowState:
    """Bring a braced state into equilibrium with `law`, at a height or with a string length.

    Parameters as in `draw_inelastic` and `limbfe.beam.brace.brace`; `state` must be braced.

    Raises
    ------
    ConvergenceError
        If Newton's method fails.
    """
    path, _ = start_of_draw(bow, state)
    path.border[5] = 0.0
    section = _Sections(bow, state.strains, law)
    control, target = (HEIGHT, height) if height is not None else (LENGTH, length)
    if target is None:
        target = float(state.string_lengths.sum())
    converged, residuals = _newton(section, path, control, float(target))
    if not converged:
        raise ConvergenceError(
            "bracing: with a belly that yields no equilibrium was found at this brace height or "
            "string length; brace lower, or make the limbs thicker or wider",
            iteration=len(residuals),
            residuals=residuals,
            last_state=state,
        )
    path.string[:] = string_lengths(bow, path)
    reached = string_height(bow, path.rotations, path.positions)
    return section.state(path, HEIGHT, residuals, reached)


def unstrung_shape(bow: Bow, strains: Any) -> tuple[Array, Array]:
    """Return positions (n, 3) and rotations (n, 3, 3) of a bow whose free sections are strained.

    Parameters
    ----------
    strains : array_like, shape (n - 1, 2, 6)
        Strains that remain when a section carries nothing (the set).
    """
    chain, model = bow.chain, bow.model
    mean = 0.5 * np.einsum("mgij,mgi->mj", chain.transport, np.asarray(strains, float))
    twist = chain.twist + mean * chain.length[:, None]
    rotations, positions = np.array(chain.rotations), np.array(chain.positions)
    for e in range(model.lower - 1, -1, -1):
        rotations[e], positions[e] = rotations[e + 1], positions[e + 1]
        move(rotations[e], positions[e], -twist[e])
    for e in range(model.upper, len(twist)):
        rotations[e + 1], positions[e + 1] = rotations[e], positions[e]
        move(rotations[e + 1], positions[e + 1], twist[e].copy())
    return positions, rotations


class _Sections:
    """The sections' strains and the affine element law they give at the moment."""

    def __init__(self, bow: Bow, strains: Array, law: SectionLaw) -> None:
        self.bow, self.law = bow, law
        self.strains = np.array(strains)
        m = len(bow.chain.length)
        self.transport = np.array(bow.chain.transport)
        self.compliance = np.empty_like(bow.chain.stiffness)
        self.element = np.empty((m, 6, 6))
        self.twist, self.mean = np.empty((m, 6)), np.empty((m, 6))
        self.resultants = np.zeros_like(self.strains)
        self.pivots, self.symmetric = 0, np.zeros((18, 18))

    def refresh(self) -> Model:
        """Linearise the law at the strains: ``S = K (twist/L - strain_0 - gap)``."""
        chain = self.bow.chain
        self.resultants, tangent = self.law(self.strains)
        effective_stiffness(
            np.ascontiguousarray(tangent), self.transport, self.compliance, self.element
        )
        plastic = self.strains - np.einsum("mgij,mgj->mgi", self.compliance, self.resultants)
        mean = 0.5 * np.einsum("mgij,mgi->mj", self.transport, plastic)
        mean += chain.twist / chain.length[:, None]
        offset = -np.einsum("mij,mj->mi", self.element, mean)
        return self.bow.model._replace(stiffness=self.element, offset=offset)

    def gap(self, model: Model, path: Path) -> Array:
        """Return by how much the law's resultants miss the element's equilibrium."""
        resultants(
            path.rotations, path.positions, model.stiffness, model.offset, model.length,
            self.twist, self.mean,
        )  # fmt: skip
        wanted = np.einsum("mgij,mj->mgi", self.transport, self.mean)
        gap: Array = wanted - self.resultants
        return gap

    def state(
        self, path: Path, control: int, residuals: tuple[float, ...], height: float
    ) -> BowState:
        """Return the state of a converged path, with the law's strains and resultants."""
        n = len(path.positions)
        record = new_record(1, n)
        record.rotations[0], record.positions[0] = path.rotations, path.positions
        record.borders[0] = path.border
        record.counts[0] = len(residuals), self.pivots
        record.residuals[0, : len(residuals)] = residuals
        record.symmetric[0] = self.symmetric
        state = make_states(self.bow, record, path.string, control=control, brace_height=height)[0]
        strains, forces = self.strains.copy(), self.resultants.copy()
        strains.setflags(write=False)
        forces.setflags(write=False)
        compliance = self.bow.chain.compliance
        energy = 0.25 * np.einsum(
            "m,mgi,mgij,mgj->", self.bow.chain.length, forces, compliance, forces
        )
        return replace(state, strains=strains, resultants=forces, strain_energy=float(energy))


def _newton(
    section: _Sections, path: Path, control: int, target: float
) -> tuple[bool, tuple[float, ...]]:
    """Iterate the bow and its sections together; `path` and the sections are moved in place."""
    work = new_work(len(path.positions))
    residuals: list[float] = []
    # a step too long may leave double precision; the norm then says so
    with np.errstate(over="ignore", invalid="ignore"):
        return _iterate(section, path, work, control, target, residuals), tuple(residuals)


def _iterate(
    section: _Sections,
    path: Path,
    work: Work,
    control: int,
    target: float,
    residuals: list[float],
) -> bool:
    bow, size = section.bow, section.bow.model.size
    for _ in range(MAX_ITERATIONS):
        model = section.refresh()
        norm, pivots = linearise(model, path, work, control, target, 1.0)
        section.pivots, section.symmetric = pivots, work.symmetric.copy()
        gap = section.gap(model, path)
        scale = max(bow.model.force, float(np.abs(path.border[3:]).max()))
        miss = float(np.max(np.abs(gap) / (scale * np.array([1.0] * 3 + [size] * 3))))
        norm = max(norm, miss)
        residuals.append(norm)
        if not math.isfinite(norm) or pivots < 0:
            return False
        if norm < TOLERANCE:
            taut = min(path.border[3], path.border[4]) >= 0.0
            return bool(taut and not turned_over(model, path, control))
        advance(model, path, work, NEWTON, 1.0)
        gap = section.gap(model, path)
        section.strains += np.einsum("mgij,mgj->mgi", section.compliance, gap)
    return False
