"""Draw a braced bow, draw it on or let it down, its sections elastic or following a law."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.equilibrium.sections import SectionLaw
from limbfe.beam.equilibrium.stability import CURE, stable_states
from limbfe.beam.equilibrium.state import BowState, DrawHistory, history, make_states, path_of
from limbfe.beam.equilibrium.way import Way, way_on
from limbfe.beam.limbs.placing import lay_out
from limbfe.beam.model import DRAW, PULL, Equilibrium
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array
from limbfe.units import both_forces, both_lengths

_BISECTIONS = 24
_SHORT_STEPS = 8
_PUSH = 1e-6
"""A push of this share of the string's tension is a pull of nothing, to rounding."""


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


def follow(
    bow: Bow,
    state: BowState,
    draw_lengths: Iterable[float],
    law: SectionLaw | None = None,
    *,
    settled: Callable[[Array], SectionLaw] | None = None,
    behind: Sequence[BowState] = (),
    to_rest: bool = False,
) -> Followed:
    """Lead a state on through a sequence of draw lengths.

    Parameters
    ----------
    bow : Bow
    state : BowState
        Braced or drawn; its strains and string lengths are the start.
    draw_lengths : iterable of float, m
        They may be shorter than the state's own, down to where the archer need not pull.
    law : callable, optional
        Section law in the section axes of the Gauss points; what it remembers of the past is
        the caller's business, and must not change on the way to an equilibrium.  Without one the
        sections are elastic.
    settled : callable, optional
        Takes the strains of a state that was reached and returns the law from there on.
    behind : sequence of BowState
        The states through which the bow came, on the same string; the next one is guessed from
        them.
    to_rest : bool
        End at the first state in which the archer need not pull.

    Returns
    -------
    Followed
        The string is taut in every state.  With a law their strains are those of the law, and
        `strain_energy` is the elastic energy of the bow's own stiffness under their resultants.

    Raises
    ------
    GeometryError
        If the string would have to be pushed in one of them, unless led `to_rest`.
    """
    followed = _follow(
        bow, way_on(bow, state, law=law, behind=behind), state, draw_lengths, settled, to_rest
    )
    if not to_rest:
        check_pulled(*followed.states)
    return followed


def _follow(
    bow: Bow,
    way: Way,
    state: BowState,
    draw_lengths: Iterable[float],
    settled: Callable[[Array], SectionLaw] | None = None,
    to_rest: bool = False,
) -> Followed:
    points: list[Equilibrium] = []
    failure = None
    for draw_length in draw_lengths:
        point = way.lead(DRAW, draw_length)
        if point is None:
            failure = _failure(way, draw_length, state)
            break
        points.append(point)
        if settled is not None and way.sections is not None:
            way.sections.law = settled(way.sections.strains)
        if to_rest and point.path.border[PULL] <= 0.0:
            break
    states = make_states(bow, points, control=DRAW, brace_height=state.brace_height)
    if failure is not None and states:
        failure.last_state = states[-1]
    return Followed(states=states, failure=failure)


def _failure(way: Way, draw_length: float, state: BowState) -> ConvergenceError:
    reason = "the limbs give way, or string and limbs reach no further; draw less"
    if way.went_slack:
        reason = "a part of the string goes slack; is it long enough for this draw?"
    return ConvergenceError(
        f"draw to {both_lengths(draw_length, 4)}: no equilibrium was found beyond "
        f"{both_lengths(way.at, 4)}: {reason}",
        draw_length=way.at,
        iteration=len(way.residuals),
        residuals=way.residuals,
        last_state=state,
    )


def draw_on(
    bow: Bow,
    state: BowState,
    draw_length: float,
    law: SectionLaw | None = None,
    *,
    behind: Sequence[BowState] = (),
) -> BowState:
    """Lead a state on to one draw length; parameters as in `follow`.

    Raises
    ------
    GeometryError
        If the string would have to be pushed there.
    ConvergenceError
        If the draw length cannot be reached.
    """
    followed = follow(bow, state, [draw_length], law, behind=behind)
    if followed.failure is not None:
        raise followed.failure
    return followed.states[0]


def draw(
    bow: Bow,
    braced: BowState,
    draw_lengths: Any,
    *,
    unstable: Literal["raise", "follow"] = "raise",
) -> DrawHistory:
    """Draw a braced bow to each of a sequence of draw lengths.

    Parameters
    ----------
    bow : Bow
    braced : BowState
        From `brace`, of the same bow; a drawn state is drawn on or let down.
    draw_lengths : array_like, shape (k,), m
        From the back of the grip to the nocking point along the pull, in any order.
    unstable : {"raise", "follow"}
        What to do when the bow loses its stability on the way.

    Returns
    -------
    DrawHistory

    Raises
    ------
    GeometryError
        If a draw length is shorter than the braced one, so that the string would have to be
        pushed, or if the string of `braced` is slack.
    ConvergenceError
        If a draw length cannot be reached, or (with ``unstable="raise"``) if the bow loses its
        stability; carries the draw length reached and the last state.
    """
    targets = np.atleast_1d(np.asarray(draw_lengths, dtype=np.float64))
    if braced.slack:
        raise GeometryError("draw: the string is slack; use pull for a long string")
    _, start = path_of(bow, braced)
    if braced.gives_way is not None and unstable == "raise":
        raise ConvergenceError(
            f"draw: the bow loses its stability as it is braced: {CURE[braced.gives_way]}",
            draw_length=start,
            last_state=braced,
        )
    for target in targets:
        if not np.isfinite(target) or (braced.draw_force == 0.0 and target < start - 1e-9):
            raise GeometryError(
                f"draw length {both_lengths(target, 4)}: the braced string already stands "
                f"{both_lengths(start, 4)} from the back of the grip; draw further"
            )
    states = _states_at(bow, braced, targets, 1)
    if not all(state.stable for state in states) and braced.stable:
        # a long step may have jumped off the stable path: go again in short ones
        states = _states_at(bow, braced, targets, _SHORT_STEPS)
    check_pulled(*states)
    limit = None
    stable = [braced.stable, *(state.stable for state in states)]
    if not all(stable):
        first = stable.index(False)
        limit = start if first == 0 else _stability_limit(bow, braced, states, first - 1)
        lost = braced if first == 0 else states[first - 1]
        if unstable == "raise" and lost.gives_way is not None:
            raise ConvergenceError(
                f"draw to {both_lengths(targets[-1], 4)}: the bow loses its stability at "
                f"{both_lengths(limit, 4)}: {CURE[lost.gives_way]}, or draw less",
                draw_length=limit,
                iteration=lost.iterations,
                residuals=lost.residuals,
                last_state=states[first - 2] if first > 1 else braced,
            )
    return history(braced, states, limit)


def _states_at(bow: Bow, braced: BowState, targets: Array, split: int) -> tuple[BowState, ...]:
    """Return the states at `targets`, each step cut into `split` equal ones."""
    way = way_on(bow, braced)
    corners = np.concatenate([[way.at], targets])
    fine = np.interp(np.arange(len(targets) * split + 1) / split, np.arange(len(corners)), corners)
    followed = _follow(bow, way, braced, fine[1:].tolist())
    if followed.failure is not None:
        raise followed.failure
    return followed.states[split - 1 :: split]


def _stability_limit(bow: Bow, braced: BowState, states: tuple[BowState, ...], index: int) -> float:
    """Return the draw length between the state before `index` and `index` where it is lost."""
    path, low = path_of(bow, states[index - 1] if index > 0 else braced)
    high = states[index].draw_length
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        point = Way(bow.model, path.copy(), low).lead(DRAW, middle)
        if point is not None and stable_states(bow.model, [point], DRAW)[0]:
            path, low = point.path, middle
        else:
            high = middle
    return 0.5 * (low + high)


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


def check_pulled(*states: BowState) -> None:
    """Raise GeometryError if the archer would have to push the string in one of the states."""
    for state in states:
        if state.draw_force < -_PUSH * float(state.string_tension.max()):
            raise GeometryError(
                f"draw length {both_lengths(state.draw_length, 4)}: the braced string of this bow "
                "stands further out, and would have to be pushed "
                f"({both_forces(-state.draw_force)}); draw further"
            )
