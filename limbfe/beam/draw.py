"""Brace a bow and draw it."""

from __future__ import annotations

import math
from typing import Any, Literal

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.hold import draw_length
from limbfe.beam.model import DRAW, Path, new_path, new_work
from limbfe.beam.newton import (
    MAX_ITERATIONS,
    brace_to_height,
    brace_to_length,
    chord,
    string_height,
    trace,
)
from limbfe.beam.state import BowState, DrawHistory, Record, history, make_states
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array


def brace(bow: Bow, *, height: float | None = None, length: float | None = None) -> BowState:
    """Return the braced bow.

    Parameters
    ----------
    bow : Bow
    height : float, optional
        Brace height, m: from the belly at the middle of the grip to the string, along X.
    length : float, optional
        Unstretched length of the string between the nocks, m.  Give one of the two.

    Returns
    -------
    BowState
        In the bow's own frame.  With a string too long to touch tension the bow is at rest and
        ``state.slack`` is true.

    Raises
    ------
    GeometryError
        If neither or both are given, or the value is impossible.
    ConvergenceError
        If there is no braced equilibrium.
    """
    model = bow.model
    path, work = new_path(model), new_work(len(model.positions))
    if (height is None) == (length is None):
        raise GeometryError("brace: give either the brace height or the string length")
    if height is not None:
        rest = string_height(model, path)
        if not math.isfinite(height) or height <= rest:
            raise GeometryError(
                f"brace height {1e3 * height:.1f} mm: the unstrung bow's nocks already lie "
                f"{1e3 * rest:.1f} mm from the belly of the grip; give more than that"
            )
        status, reached, iterations, negative = brace_to_height(model, path, work, height)
        wanted = f"a brace height of {1e3 * height:.1f} mm"
    else:
        assert length is not None
        if not (math.isfinite(length) and length > 0.0):
            raise GeometryError(f"brace: a string of length {length} m is impossible")
        rest_chord = chord(model, path)
        status, reached, iterations, negative = brace_to_length(model, path, work, length)
        if status != 0 and length >= rest_chord:
            return _slack(bow, length)
        wanted = f"a string of {1e3 * length:.1f} mm"
    if status != 0:
        raise ConvergenceError(
            f"bracing to {wanted}: no equilibrium found beyond {100.0 * reached:.1f} % of the "
            "way; the limbs cannot be held there by a string (brace height too low for this "
            "reflex, or too high for this length); change the brace height",
            iteration=iterations,
            residuals=tuple(work.residuals[:iterations].tolist()),
        )
    return _braced(bow, path, work.residuals, iterations, negative)


def _braced(bow: Bow, path: Path, residuals: Array, iterations: int, negative: int) -> BowState:
    model = bow.model
    height, between = string_height(model, path), chord(model, path)
    tension = path.border[3]
    total = between / (1.0 + tension / model.string_stiffness)
    low = path.positions[0] + path.rotations[0] @ model.nocks[0]
    high = path.positions[-1] + path.rotations[-1] @ model.nocks[1]
    share = 0.5
    if bow.hold.kind != "tiller":
        share = (bow.arrow_z - low[2]) / (high[2] - low[2])
    if not 0.0 < share < 1.0:
        raise GeometryError(
            f"bow: arrow_z = {1e3 * bow.arrow_z:.0f} mm lies beyond the braced string"
        )
    border = np.array([*(low + share * (high - low)), tension, tension, 0.0])
    record = Record(
        rotations=path.rotations[None],
        positions=path.positions[None],
        borders=border[None],
        string=total * np.array([share, 1.0 - share]),
        iterations=np.array([iterations]),
        negative=np.array([negative]),
        residuals=residuals[None],
        drawn=False,
        brace_height=height,
    )
    return make_states(bow, record)[0]


def _slack(bow: Bow, length: float) -> BowState:
    path = new_path(bow.model)
    low = path.positions[0] + path.rotations[0] @ bow.model.nocks[0]
    high = path.positions[-1] + path.rotations[-1] @ bow.model.nocks[1]
    record = Record(
        rotations=path.rotations[None],
        positions=path.positions[None],
        borders=np.array([[*(0.5 * (low + high)), 0.0, 0.0, 0.0]]),
        string=0.5 * length * np.ones(2),
        iterations=np.array([0]),
        negative=np.array([0]),
        residuals=np.zeros((1, 1)),
        drawn=False,
        brace_height=math.nan,
    )
    return make_states(bow, record)[0]


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
    model = bow.model
    targets = np.atleast_1d(np.asarray(draw_lengths, dtype=np.float64))
    if braced.slack:
        raise GeometryError("draw: the string is slack; use pull for a long string")
    path, start = start_of_draw(bow, braced)
    low = targets < start - 1e-9
    if not np.all(np.isfinite(targets)) or np.any(low):
        raise GeometryError(
            f"draw length {1e3 * targets[low][0] if low.any() else math.nan:.1f} mm: the braced "
            f"string already stands {1e3 * start:.1f} mm from the back of the grip; draw further"
        )
    k, n = len(targets), len(model.positions)
    work = new_work(n)
    rotations, positions = np.empty((k, n, 3, 3)), np.empty((k, n, 3))
    borders, counts = np.empty((k, 6)), np.zeros((k, 2), dtype=np.int64)
    residuals = np.empty((k, MAX_ITERATIONS))
    status, done, value = trace(
        model, path, work, DRAW, start, targets, rotations, positions, borders, counts, residuals
    )
    record = Record(
        rotations=rotations[:done],
        positions=positions[:done],
        borders=borders[:done],
        string=path.string,
        iterations=counts[:done, 0],
        negative=counts[:done, 1],
        residuals=residuals[:done],
        drawn=True,
        brace_height=braced.brace_height,
    )
    states = make_states(bow, record)
    if status != 0:
        reason = "a part of the string goes slack" if status == 2 else "Newton's method fails"
        raise ConvergenceError(
            f"draw to {1e3 * targets[done]:.1f} mm: {reason} beyond {1e3 * value:.1f} mm; "
            "no equilibrium was found there: is the string long enough for this draw?",
            draw_length=value,
            iteration=int(counts[done, 0]),
            residuals=tuple(residuals[done, : counts[done, 0]].tolist()),
            last_state=states[-1] if states else braced,
        )
    return history(braced, states, None)


def start_of_draw(bow: Bow, braced: BowState) -> tuple[Path, float]:
    """Return the solver's path at the braced state and its draw length along the pull."""
    path = Path(
        np.array(braced.rotations),
        np.array(braced.positions),
        np.array([*braced.nocking_point, *braced.string_tension, 0.0]),
        np.array(braced.string_lengths),
    )
    model = bow.model
    start = draw_length(
        model.hold, model.point, model.half_length, model.back, path.border[:3], np.empty(3)
    )
    return path, start
