"""Draw a braced bow."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.hold import pull_direction
from limbfe.beam.model import DRAW, Path, cut, new_path, new_record, new_work
from limbfe.beam.newton import REACHED, SLACK, solve
from limbfe.beam.state import BowState, DrawHistory, history, make_states
from limbfe.errors import ConvergenceError, GeometryError


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
        From `brace`, of the same bow.
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
        If a draw length is shorter than the braced one, or the string of `braced` is slack.
    ConvergenceError
        If a draw length cannot be reached, or (with ``unstable="raise"``) if the bow loses its
        stability; carries the draw length reached and the last state.
    """
    targets = np.atleast_1d(np.asarray(draw_lengths, dtype=np.float64))
    if braced.slack:
        raise GeometryError("draw: the string is slack; use pull for a long string")
    path, start = start_of_draw(bow, braced)
    for target in targets:
        if not start - 1e-9 <= target < np.inf:
            raise GeometryError(
                f"draw length {1e3 * target:.1f} mm: the braced string already stands "
                f"{1e3 * start:.1f} mm from the back of the grip; draw further"
            )
    stages = np.ones((len(targets), 5))
    stages[:, 0] = DRAW
    stages[:, 1], stages[:, 2] = np.concatenate([[start], targets[:-1]]), targets
    n = len(bow.chain.positions)
    record = new_record(len(targets), n)
    status, done, reached = solve(bow.model, path, new_path(n), new_work(n), stages, record)
    states = make_states(
        bow,
        cut(record, 0, done),
        path.string,
        control=DRAW,
        brace_height=braced.brace_height,
    )
    if status != REACHED:
        value = float(stages[done, 1] + reached * (stages[done, 2] - stages[done, 1]))
        count = int(record.counts[done, 0])
        reason = "a part of the string goes slack" if status == SLACK else "Newton's method fails"
        raise ConvergenceError(
            f"draw to {1e3 * targets[done]:.1f} mm: {reason} beyond {1e3 * value:.1f} mm; "
            "no equilibrium was found there: is the string long enough for this draw?",
            draw_length=value,
            iteration=count,
            residuals=tuple(record.residuals[done, :count].tolist()),
            last_state=states[-1] if states else braced,
        )
    return history(braced, states, None)


def start_of_draw(bow: Bow, braced: BowState) -> tuple[Path, float]:
    """Return the solver's path at the braced state and its draw length along the pull."""
    path = Path(
        np.array(braced.rotations, order="C"),
        np.array(braced.positions, order="C"),
        np.array([*braced.nocking_point, *braced.string_tension, 0.0]),
        np.array(braced.string_lengths, order="C"),
    )
    model, direction = bow.model, np.empty(3)
    pull_direction(
        model.hold, model.point, model.half_length, path.border, direction, np.empty((3, 3))
    )
    return path, float(direction @ (path.border[:3] - model.back))
