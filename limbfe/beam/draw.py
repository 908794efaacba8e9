"""Draw a braced bow."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.hold import length_along_pull
from limbfe.beam.model import DRAW, Path, new_path, new_record, new_work, pick
from limbfe.beam.newton import REACHED, SLACK, solve
from limbfe.beam.stability import CURE, stable_states
from limbfe.beam.state import BowState, DrawHistory, history, make_states, own_frame
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array

_BISECTIONS = 24
_SHORT_STEPS = 8
_PUSH = 1e-6
"""A push of this share of the string's tension is a pull of nothing, to rounding."""


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
    _, start = start_of_draw(bow, braced)
    if braced.gives_way is not None and unstable == "raise":
        raise ConvergenceError(
            f"draw: the bow loses its stability as it is braced: {CURE[braced.gives_way]}",
            draw_length=start,
            last_state=braced,
        )
    for target in targets:
        if not np.isfinite(target) or (braced.draw_force == 0.0 and target < start - 1e-9):
            raise GeometryError(
                f"draw length {1e3 * target:.1f} mm: the braced string already stands "
                f"{1e3 * start:.1f} mm from the back of the grip; draw further"
            )
    states = _solve(bow, braced, targets, 1)
    if not all(state.stable for state in states) and braced.stable:
        # a long step may have jumped off the stable path: go again in short ones
        states = _solve(bow, braced, targets, _SHORT_STEPS)
    check_pulled(*states)
    limit = None
    stable = [braced.stable, *(state.stable for state in states)]
    if not all(stable):
        first = stable.index(False)
        limit = start if first == 0 else _stability_limit(bow, braced, states, first - 1)
        lost = braced if first == 0 else states[first - 1]
        if unstable == "raise" and lost.gives_way is not None:
            raise ConvergenceError(
                f"draw to {1e3 * targets[-1]:.1f} mm: the bow loses its stability at "
                f"{1e3 * limit:.1f} mm: {CURE[lost.gives_way]}, or draw less",
                draw_length=limit,
                iteration=lost.iterations,
                residuals=lost.residuals,
                last_state=states[first - 2] if first > 1 else braced,
            )
    return history(braced, states, limit)


def _solve(bow: Bow, braced: BowState, targets: Array, split: int) -> tuple[BowState, ...]:
    """Return the states at `targets`, each step cut into `split` equal ones."""
    path, start = start_of_draw(bow, braced)
    corners = np.concatenate([[start], targets])
    fine = np.interp(np.arange(len(targets) * split + 1) / split, np.arange(len(corners)), corners)
    stages = np.ones((len(fine) - 1, 5))
    stages[:, 0], stages[:, 1], stages[:, 2] = DRAW, fine[:-1], fine[1:]
    n = len(bow.chain.positions)
    record = new_record(len(stages), n)
    status, done, reached = solve(bow.model, path, new_path(n), new_work(n), stages, record)
    states = make_states(
        bow,
        pick(record, np.arange(split - 1, done, split)),
        path.string,
        control=DRAW,
        brace_height=braced.brace_height,
    )
    if status != REACHED:
        value = float(stages[done, 1] + reached * (stages[done, 2] - stages[done, 1]))
        count = int(record.counts[done, 0])
        reason = "a part of the string goes slack" if status == SLACK else "Newton's method fails"
        raise ConvergenceError(
            f"draw to {1e3 * targets[done // split]:.1f} mm: {reason} beyond "
            f"{1e3 * value:.1f} mm; no equilibrium was found there: is the string long enough "
            "for this draw?",
            draw_length=value,
            iteration=count,
            residuals=tuple(record.residuals[done, :count].tolist()),
            last_state=states[-1] if states else braced,
        )
    return states


def _stability_limit(bow: Bow, braced: BowState, states: tuple[BowState, ...], index: int) -> float:
    """Return the draw length between the state before `index` and `index` where it is lost."""
    before = states[index - 1] if index > 0 else braced
    path, low = start_of_draw(bow, before)
    high = states[index].draw_length
    n = len(path.positions)
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        trial = Path(*(array.copy() for array in path))
        record = new_record(1, n)
        stages = np.array([[DRAW, low, middle, 1.0, 1.0]])
        status, _, _ = solve(bow.model, trial, new_path(n), new_work(n), stages, record)
        if status == REACHED and stable_states(bow.model, record, trial.string, DRAW)[0]:
            path, low = trial, middle
        else:
            high = middle
    return 0.5 * (low + high)


def start_of_draw(bow: Bow, braced: BowState) -> tuple[Path, float]:
    """Return the solver's path at a state (braced or drawn) and its draw length along the pull."""
    point = braced.nocking_point
    path = Path(
        np.ascontiguousarray(np.swapaxes(braced.frame, 0, 1) @ braced.rotations),
        own_frame(bow, braced, braced.positions),
        np.array([*own_frame(bow, braced, point), *braced.string_tension, braced.draw_force]),
        np.array(braced.string_lengths, order="C"),
    )
    return path, length_along_pull(bow.model, path.border)


def check_pulled(*states: BowState) -> None:
    """Raise GeometryError if the archer would have to push the string in one of the states."""
    for state in states:
        if state.draw_force < -_PUSH * float(state.string_tension.max()):
            raise GeometryError(
                f"draw length {1e3 * state.draw_length:.1f} mm: the braced string of this bow "
                f"stands further out, and would have to be pushed ({-state.draw_force:.1f} N); "
                "draw further"
            )
