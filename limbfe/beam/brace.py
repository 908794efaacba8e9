"""Brace a bow: to a height, or with a string of given length."""

from __future__ import annotations

import math

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.model import HEIGHT, LENGTH, Path, Record, new_path, new_record, new_work, pick
from limbfe.beam.newton import REACHED, solve
from limbfe.beam.state import BowState, make_states
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array

_SHORT_STEPS = 12
_HEIGHTS = (0.1, 0.15, 0.2, 0.07, 0.05)
"""Shares of the bow's length tried as a first height when the string's length is given."""


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
        ``state.slack`` is true; where no stable braced state was found ``state.stable`` is
        false, and `limbfe.beam.draw.draw` will refuse it.

    Raises
    ------
    GeometryError
        If neither or both are given, or the value is impossible.
    ConvergenceError
        If there is no braced equilibrium.

    Notes
    -----
    Two dead pulls towards the archer bend the limbs to the height; then the pulls are turned
    into the string's direction while the height is kept, so the shape hardly changes on the way
    and a straight limb never meets its buckling point.
    """
    if (height is None) == (length is None):
        raise GeometryError("brace: give either the brace height or the string length")
    if height is not None:
        return _brace_to_height(bow, height)
    assert length is not None
    if not (math.isfinite(length) and length > 0.0):
        raise GeometryError(f"brace: a string of length {length} m is impossible")
    return _brace_to_length(bow, length)


def rest_path(bow: Bow) -> Path:
    """Return the bow at rest with a string laid straight between its nocks."""
    path = new_path(len(bow.chain.positions))
    path.rotations[:], path.positions[:] = bow.chain.rotations, bow.chain.positions
    low, high = nocks(bow, path.rotations, path.positions)
    share = _share(bow, low, high)
    path.border[:3] = low + share * (high - low)
    path.border[3:5] = 0.1 * bow.model.force
    return path


def nocks(bow: Bow, rotations: Array, positions: Array) -> tuple[Array, Array]:
    """Return the places of the lower and the upper nock, each of shape (3,)."""
    low = positions[0] + rotations[0] @ bow.string.nock_lower
    high = positions[-1] + rotations[-1] @ bow.string.nock_upper
    return low, high


def string_height(bow: Bow, rotations: Array, positions: Array) -> float:
    """Return the distance along X from the grip's belly to the line between the nocks."""
    low, high = nocks(bow, rotations, positions)
    share = (bow.grip_belly[2] - low[2]) / (high[2] - low[2])
    return float(low[0] + share * (high[0] - low[0]) - bow.grip_belly[0])


def _share(bow: Bow, low: Array, high: Array) -> float:
    """Return where the nocking point divides the string: level with the arrow, or the middle."""
    if bow.hold.kind == "tiller":
        return 0.5
    share = float((bow.arrow_z - low[2]) / (high[2] - low[2]))
    if not 0.0 < share < 1.0:
        raise GeometryError(
            f"bow: arrow_z = {1e3 * bow.arrow_z:.0f} mm is not between the nocks "
            f"({1e3 * low[2]:.0f} mm and {1e3 * high[2]:.0f} mm)"
        )
    return share


def _bend(bow: Bow, height: float, steps: int = 1) -> tuple[Path, Record, int, int]:
    """Bend the bow at rest to a string at `height`, each of the two stages in `steps` parts."""
    path, n = rest_path(bow), len(bow.chain.positions)
    rest = string_height(bow, path.rotations, path.positions)
    part = np.linspace(0.0, 1.0, steps + 1)
    heights = np.concatenate([rest + part * (height - rest), np.full(steps, height)])
    closings = np.concatenate([np.zeros(steps), part])
    stages = np.full((2 * steps, 5), float(HEIGHT))
    stages[:, 1], stages[:, 2] = heights[:-1], heights[1:]
    stages[:, 3], stages[:, 4] = closings[:-1], closings[1:]
    record = new_record(2 * steps, n)
    status, done, _ = solve(bow.model, path, new_path(n), new_work(n), stages, record)
    return path, record, status, done


def _brace_to_height(bow: Bow, height: float) -> BowState:
    rest = string_height(bow, bow.chain.rotations, bow.chain.positions)
    if not math.isfinite(height) or height <= rest:
        raise GeometryError(
            f"brace height {1e3 * height:.1f} mm: the unstrung bow's nocks already lie "
            f"{1e3 * rest:.1f} mm from the belly of the grip; give more than that"
        )
    path, record, status, _ = _bend(bow, height)
    if status == REACHED:
        state = _braced(bow, path, record)
        if state.stable:
            return state
    # a long step may have jumped off the stable path: go again in short ones
    again, short, retried, reached = _bend(bow, height, _SHORT_STEPS)
    if retried == REACHED:
        return _braced(bow, again, short)
    if status == REACHED:
        return _braced(bow, path, record)
    raise _failure(bow, f"a brace height of {1e3 * height:.1f} mm", again, short, reached)


def _brace_to_length(bow: Bow, length: float) -> BowState:
    n = len(bow.chain.positions)
    at_rest = rest_path(bow)
    low, high = nocks(bow, at_rest.rotations, at_rest.positions)
    done, path, record = 0, at_rest, new_record(1, n)
    for share in _HEIGHTS:
        path, record, status, done = _bend(bow, share * bow.model.size)
        if status != REACHED:
            continue
        start = float(np.sum(string_lengths(bow, path)))
        stages = np.array([[LENGTH, start, length, 1.0, 1.0]])
        record = new_record(1, n)
        status, done, _ = solve(bow.model, path, new_path(n), new_work(n), stages, record)
        # without tension the string may hang anywhere: that is a slack string, not a braced bow
        if status == REACHED and path.border[3] > 1e-6 * bow.model.force:
            return _braced(bow, path, record)
        break
    if length >= float(np.linalg.norm(high - low)):
        return _slack(bow, at_rest, length)
    raise _failure(bow, f"a string of {1e3 * length:.1f} mm", path, record, done)


def _failure(bow: Bow, wanted: str, path: Path, record: Record, done: int) -> ConvergenceError:
    reached = string_height(bow, path.rotations, path.positions)
    count = int(record.counts[done, 0])
    first = done < len(record.positions) // 2
    how = "bent by pulls on both nocks" if first else "by turning pulls on both nocks into it"
    return ConvergenceError(
        f"bracing to {wanted}: no equilibrium found ({how}, the last one reached had the nocks "
        f"{1e3 * reached:.1f} mm from the belly of the grip); a string cannot hold the limbs "
        "there when it lies too near to or behind them (reflex against brace height); "
        "change the brace height or the string length",
        iteration=count,
        residuals=tuple(record.residuals[done, :count].tolist()),
    )


def string_lengths(bow: Bow, path: Path) -> Array:
    """Return the unstretched lengths (2,) of the string of a braced path."""
    low, high = nocks(bow, path.rotations, path.positions)
    parts = np.array([np.linalg.norm(path.border[:3] - end) for end in (low, high)])
    lengths: Array = parts / (1.0 + path.border[3:5] / bow.string.stiffness)
    return lengths


def _braced(bow: Bow, path: Path, record: Record) -> BowState:
    stages = len(record.positions)
    return make_states(
        bow,
        pick(record, slice(stages - 1, stages)),
        string_lengths(bow, path),
        control=HEIGHT,
        brace_height=string_height(bow, path.rotations, path.positions),
    )[0]


def _slack(bow: Bow, path: Path, length: float) -> BowState:
    record = new_record(1, len(path.positions))
    record.rotations[0], record.positions[0] = path.rotations, path.positions
    record.borders[0, :3] = path.border[:3]
    record.symmetric[0] = np.diag([1.0] * 15 + [-1.0] * 3)
    low, high = nocks(bow, path.rotations, path.positions)
    share = _share(bow, low, high)
    string = length * np.array([share, 1.0 - share])
    return make_states(bow, record, string, control=LENGTH, brace_height=math.nan)[0]
