"""What the compiled solver is given and what it works on: plain arrays in named tuples."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array

HOLDS = ("clamp", "hand", "tiller")
"""Hold kinds in the order of their codes in compiled code."""

HEIGHT, LENGTH, DRAW, FORCE, TIPS = range(5)
"""What a state prescribes: brace height, string length (both braced), then draw length, pull,
mean X of the nocks (drawn)."""

MAX_RECORDED = 25


class Model(NamedTuple):
    """A bow as arrays, in the bow's own frame (the clamped grip does not move).

    `offset` is the mean resultant of a bow without any strain (rest curvature times stiffness,
    negative); `lower`, `upper` are the clamped nodes next to the limbs; `size` is the length of
    the chain and `force` its flexural force scale, used only to make residuals dimensionless.
    """

    stiffness: Array
    offset: Array
    length: Array
    lower: int
    upper: int
    nocks: Array
    string_stiffness: float
    hold: int
    point: Array
    half_length: float
    arrow: float
    belly: Array
    back: Array
    size: float
    force: float


class Path(NamedTuple):
    """The state being solved for.

    `border` holds the nocking point (3), the tensions of the lower and upper part of the
    string and the pull; `string` the unstretched lengths of the two parts.
    """

    rotations: Array
    positions: Array
    border: Array
    string: Array


class Work(NamedTuple):
    """Scratch arrays of one solve; after a solve they hold the last factorisation."""

    diag: Array
    off: Array
    rhs: Array
    symmetric: Array
    residual: Array
    rows: Array
    reduced: Array
    columns: Array


class Record(NamedTuple):
    """States found, in the bow's own frame, stage by stage (s of them).

    `counts` holds Newton iterations and negative pivots of the limbs, `symmetric` the Hessian
    of what is left when the limbs are eliminated.
    """

    rotations: Array
    positions: Array
    borders: Array
    counts: NDArray[np.int64]
    residuals: Array
    symmetric: Array


def new_path(n: int) -> Path:
    """Return an empty path for a chain of `n` nodes."""
    return Path(np.zeros((n, 3, 3)), np.zeros((n, 3)), np.zeros(6), np.zeros(2))


def new_work(n: int) -> Work:
    """Return scratch arrays for a chain of `n` nodes."""
    return Work(
        diag=np.zeros((n, 6, 6)),
        off=np.zeros((n - 1, 6, 6)),
        rhs=np.zeros((n, 6)),
        symmetric=np.zeros((18, 18)),
        residual=np.zeros(18),
        rows=np.zeros((3, 18)),
        reduced=np.zeros((18, 18)),
        columns=np.zeros((18, 2)),
    )


def new_record(stages: int, n: int) -> Record:
    """Return an empty record of `stages` states of a chain of `n` nodes."""
    return Record(
        rotations=np.zeros((stages, n, 3, 3)),
        positions=np.zeros((stages, n, 3)),
        borders=np.zeros((stages, 6)),
        counts=np.zeros((stages, 2), dtype=np.int64),
        residuals=np.zeros((stages, MAX_RECORDED)),
        symmetric=np.zeros((stages, 18, 18)),
    )


def pick(record: Record, which: Any) -> Record:
    """Return the states of `record` that `which` (indices or a slice) names."""
    return Record(
        rotations=record.rotations[which],
        positions=record.positions[which],
        borders=record.borders[which],
        counts=record.counts[which],
        residuals=record.residuals[which],
        symmetric=record.symmetric[which],
    )
