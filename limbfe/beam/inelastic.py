"""Draw a bow whose sections follow a nonlinear law, by Newton's method on both at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.brace import string_height, string_lengths
from limbfe.beam.coupled import CoupledBow, Equilibrium, SectionLaw
from limbfe.beam.draw import check_pulled
from limbfe.beam.model import DRAW, HEIGHT, LENGTH, new_record
from limbfe.beam.newton import lay_out
from limbfe.beam.state import BowState, make_states
from limbfe.errors import ConvergenceError
from limbfe.frames import Array, read_only

_SMALLEST_PART = 1e-3
"""Part of a step that is still tried before giving up."""


def draw_inelastic(
    bow: Bow,
    state: BowState,
    draw_length: float,
    law: SectionLaw,
    *,
    behind: Sequence[BowState] = (),
) -> BowState:
    """Lead a state on to another draw length with sections that follow `law`.

    Parameters
    ----------
    bow : Bow
    state : BowState
        Braced or drawn; its strains and string lengths are the start.
    draw_length : float
        m; may be shorter than the state's own, down to where the archer need not pull.
    law : callable
        Section law in the section axes of the Gauss points; what it remembers of the past is
        the caller's business, and must not change during the call.
    behind : sequence of BowState
        The states through which the bow came, on the same string; the next one is guessed from
        them.

    Returns
    -------
    BowState
        Its strains are those of the law; `strain_energy` is the elastic energy of the bow's own
        stiffness under these resultants.

    Raises
    ------
    GeometryError
        If the string would have to be pushed there.
    ConvergenceError
        If the draw length cannot be reached.
    """
    way = CoupledBow(bow, state, law, behind=behind)
    point = _draw_to(way, draw_length, state)
    drawn = _states(bow, [point], DRAW, state.brace_height)[0]
    check_pulled(drawn)
    return drawn


def _draw_to(way: CoupledBow, draw_length: float, state: BowState) -> Equilibrium:
    point = _lead(way, DRAW, draw_length)
    if point is None:
        raise ConvergenceError(
            f"draw to {1e3 * draw_length:.1f} mm: no equilibrium was found beyond "
            f"{1e3 * way.at:.1f} mm: the limbs give way, or string and limbs reach no "
            "further; draw less",
            draw_length=way.at,
            iteration=len(way.residuals),
            residuals=way.residuals,
            last_state=state,
        )
    return point


def _lead(way: CoupledBow, control: int, target: float) -> Equilibrium | None:
    """Go to a prescribed value, at once or in as many parts as it takes; None where none help."""
    start, done, size = way.at, 0.0, 1.0
    while True:
        part = min(1.0, done + size)
        point = way.step(control, start + part * (target - start))
        if point is not None and part == 1.0:
            return point
        if point is not None:
            done = part
            continue
        size *= 0.5
        if size < _SMALLEST_PART or target == start:
            return None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Followed:
    """The states of a draw, as far as there is equilibrium.

    Attributes
    ----------
    states : tuple of BowState
    failure : ConvergenceError or None
        Why it ended before the last draw length.
    """

    states: tuple[BowState, ...]
    failure: ConvergenceError | None


def follow_inelastic(
    bow: Bow,
    state: BowState,
    draw_lengths: Iterable[float],
    law: SectionLaw,
    *,
    settled: Callable[[Array], SectionLaw] | None = None,
    to_rest: bool = False,
) -> Followed:
    """Lead a state on through a sequence of draw lengths.

    Parameters
    ----------
    bow, state, law
        As in `draw_inelastic`.
    draw_lengths : iterable of float, m
    settled : callable, optional
        Takes the strains of a state that was reached and returns the law from there on.
    to_rest : bool
        End at the first state in which the archer need not pull.

    Returns
    -------
    Followed
        States as `draw_inelastic` returns them, each found from a guess through those before.

    Raises
    ------
    GeometryError
        If the string would have to be pushed in one of them, unless led `to_rest`.
    """
    way, points, failure = CoupledBow(bow, state, law), [], None
    for draw_length in draw_lengths:
        try:
            point = _draw_to(way, draw_length, state)
        except ConvergenceError as error:
            failure = error
            break
        points.append(point)
        if settled is not None:
            way.law = settled(point.strains)
        if to_rest and point.path.border[5] <= 0.0:
            break
    states = _states(bow, points, DRAW, state.brace_height)
    if not to_rest:
        check_pulled(*states)
    if failure is not None and states:
        failure.last_state = states[-1]
    return Followed(states=states, failure=failure)


def brace_inelastic(
    bow: Bow,
    state: BowState,
    law: SectionLaw,
    *,
    height: float | None = None,
    length: float | None = None,
) -> BowState:
    """Bring a braced state into equilibrium with `law`, at a height or with a string length.

    Parameters as in `draw_inelastic` and `limbfe.beam.brace.brace`; `state` must be braced or let
    down.  From another height or string length the way is gone in parts where Newton fails.

    Raises
    ------
    ConvergenceError
        If Newton's method fails.
    """
    start = float(state.string_lengths.sum())
    control, target = LENGTH, start if length is None else length
    if height is not None:
        start, control, target = state.brace_height, HEIGHT, height
    way = CoupledBow(bow, state, law, at=start)
    way.path.border[5] = 0.0
    point = _lead(way, control, target)
    if point is None:
        raise ConvergenceError(
            "bracing: with a belly that yields no equilibrium was found at this brace height or "
            "string length; brace lower, or make the limbs thicker or wider",
            iteration=len(way.residuals),
            residuals=way.residuals,
            last_state=state,
        )
    path = point.path
    path.string[:] = string_lengths(bow, path)
    reached = string_height(bow, path.rotations, path.positions)
    return _states(bow, [point], HEIGHT, reached)[0]


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
    lay_out(rotations, positions, twist, model.lower, model.upper)
    return positions, rotations


def _states(
    bow: Bow, points: list[Equilibrium], control: int, height: float
) -> tuple[BowState, ...]:
    """Return the states of equilibria on one string, with the law's strains and resultants."""
    if not points:
        return ()
    record = new_record(len(points), len(points[0].path.positions))
    for k, point in enumerate(points):
        record.rotations[k], record.positions[k] = point.path.rotations, point.path.positions
        record.borders[k], record.symmetric[k] = point.path.border, point.symmetric
        record.counts[k] = len(point.residuals), point.pivots
        record.residuals[k, : len(point.residuals)] = point.residuals
    states = make_states(bow, record, points[0].path.string, control=control, brace_height=height)
    chain, found = bow.chain, []
    for point, state in zip(points, states, strict=True):
        strains, forces = read_only(point.strains), read_only(point.resultants)
        bent = (chain.compliance @ forces[..., None])[..., 0]
        energy = 0.25 * float(chain.length @ (forces * bent).sum(axis=(1, 2)))
        found.append(replace(state, strains=strains, resultants=forces, strain_energy=energy))
    return tuple(found)
