"""What the compiled solver is given and what it works on: plain arrays in named tuples."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from limbfe.beam.compiled import compiled
from limbfe.frames import Array

HOLDS = ("clamp", "hand", "tiller")
"""Hold kinds in the order of their codes in compiled code."""

CONTROLS = ("brace height", "string length", "draw length", "draw force", "tip movement")
"""What the last equation of a state prescribes, in the order of the codes."""
HEIGHT, LENGTH, DRAW, FORCE, TIPS = range(5)

TOLERANCE = 1e-9
"""Largest residual of an equilibrium, as a share of the tip force scale."""


class Model(NamedTuple):
    """A bow as arrays, in the bow's own frame (the clamped grip does not move).

    `offset` is the mean resultant of a bow without any strain (rest curvature times stiffness,
    negative); `lower`, `upper` are the clamped nodes next to the limbs; `size` is the length of
    the chain and `force` its flexural force scale, used only to make residuals dimensionless.
    """

    rotations: Array
    positions: Array
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
    belly: Array
    back: Array
    size: float
    force: float


class Path(NamedTuple):
    """The state being solved for.

    `border` holds the nocking point (3), the tensions of the lower and upper part of the
    string and the draw force; `string` the unstretched lengths of the two parts.
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
    reduced: Array
    columns: Array
    symmetric: Array
    residuals: Array
    saved_rotations: Array
    saved_positions: Array
    saved_border: Array


@compiled
def new_path(model: Model) -> Path:
    """Return the bow at rest with no string on it."""
    return Path(model.rotations.copy(), model.positions.copy(), np.zeros(6), np.zeros(2))


@compiled
def new_work(n: int) -> Work:
    """Return scratch arrays for a chain of `n` nodes."""
    return Work(
        np.zeros((n, 6, 6)),
        np.zeros((n - 1, 6, 6)),
        np.zeros((n, 6)),
        np.zeros((18, 18)),
        np.zeros((18, 2)),
        np.zeros((18, 18)),
        np.zeros(64),
        np.zeros((n, 3, 3)),
        np.zeros((n, 3)),
        np.zeros(6),
    )
