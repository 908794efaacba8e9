"""What the compiled solver is given and works on: arrays in named tuples, unknowns by name."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from limbfe.compiled import compiled_inside
from limbfe.frames import Array

HOLDS = ("clamp", "hand", "tiller")
"""Hold kinds in the order of their codes in compiled code."""
CLAMP, HAND, TILLER = range(3)

HEIGHT, LENGTH, DRAW, FORCE, TIPS = range(5)
"""What a state prescribes: brace height, string length (both braced), then draw length, pull,
mean X of the nocks (drawn)."""
BRACED = (HEIGHT, LENGTH)

POINT, TENSION, PULL, BORDER = 0, 3, 5, 6
"""The unknowns of the string, where they stand in a border and at the head of the reduced system:
the nocking point (3), the tensions of its lower and upper part (2), the pull (1).  In the reduced
system the increments of the kept nodes follow from `BORDER` on, see `unknown_of`."""


class Bed(NamedTuple):
    """What the string may lie on: a line along the middle of each limb's belly, from nock to grip.

    `nock` (2, 3) are the arms of the lower and the upper nock in the axes of the tips' sections,
    `arm` (n, 3) those of the line at every node, the nocks at the tips, and `slope` (n, 2) the
    line's dy/dx and dz/dx there, in the same axes.  Where `lies` is 0 the string meets the limbs at
    its nocks alone.
    """

    nock: Array
    arm: Array
    slope: Array
    lies: int


class Model(NamedTuple):
    """A bow as arrays, in the bow's own frame (the clamped grip does not move).

    `offset` is the mean resultant of a bow without any strain (rest curvature times stiffness,
    negative); `lower`, `upper` are the clamped nodes next to the limbs; `kept` is the number of
    nodes at the end of each limb on which the string may act, which a way deepens as far as it lies
    on the limbs; `size` is the length of the chain and `force` its flexural force scale, used only
    to make residuals dimensionless.
    """

    stiffness: Array
    offset: Array
    length: Array
    lower: int
    upper: int
    kept: int
    bed: Bed
    string_stiffness: float
    hold: int
    point: Array
    half_length: float
    arrow: float
    belly: Array
    back: Array
    size: float
    force: float

    @property
    def nocks(self) -> Array:
        """Arms of the lower and the upper nock in the axes of the tips' sections, (2, 3), m."""
        return self.bed.nock


class Limbs(NamedTuple):
    """As much of a bow as its string needs to lie on it, fields as in `Model`."""

    length: Array
    lower: int
    upper: int
    kept: int
    bed: Bed
    size: float


Ground = Model | Limbs
"""What the string is laid on: compiled code takes either."""


class Path(NamedTuple):
    """The shape being solved for.

    `border` holds the string's unknowns (`POINT`, `TENSION`, `PULL`), `string` the unstretched
    lengths of its two parts, `slack` (2,) is 1 for a part that carries nothing, else 0.
    """

    rotations: Array
    positions: Array
    border: Array
    string: Array
    slack: NDArray[np.int64]

    def copy(self) -> Path:
        """Return a path of its own in the same shape."""
        return Path(
            self.rotations.copy(),
            self.positions.copy(),
            self.border.copy(),
            self.string.copy(),
            self.slack.copy(),
        )


class Task(NamedTuple):
    """What is asked of an equilibrium: what is prescribed, its value, and the closing parameter.

    While a bow is braced its nocks are pulled with ``T ((1 - c) X + c t)``, t the string's
    direction: c leads from two pulls towards the archer (0) to the string (1).
    """

    control: int
    target: float
    closing: float


class Work(NamedTuple):
    """Scratch arrays of one solve; after a solve they hold the last equations and their factors.

    `symmetric` is the Hessian of the potential in the reduced system, `rows` what stands in place
    of its rows `TENSION` to `PULL` in the equations that are solved.  `reduced` holds both below
    one another, and the right-hand sides beside them; after a solve what is left of them when all
    kept nodes but the tips are eliminated, which `small` and `head` are solved for.
    """

    diag: Array
    off: Array
    rhs: Array
    symmetric: Array
    residual: Array
    rows: Array
    reduced: Array
    small: Array
    head: Array
    step: Array


class Equilibrium(NamedTuple):
    """An equilibrium of a bow, in its own frame.

    `at` is the prescribed value, `twist` that of the elements (m, 6); `strains` and `resultants`
    (m, 2, 6) are those of a law, None for elastic sections; `symmetric` is the Hessian of what is
    left when the inner limbs are eliminated, `least` (18, 18) that of the string's unknowns and the
    tips' increments when all others are, and `pivots` counts the negative ones of these others.
    """

    at: float
    path: Path
    twist: Array
    strains: Array | None
    resultants: Array | None
    residuals: tuple[float, ...]
    pivots: int
    symmetric: Array
    least: Array


def unknown_of(model: Model, limb: int, depth: int) -> int:
    """Return where a kept node's six increments begin; `limb` 0 is the lower, `depth` 0 the tip."""
    return BORDER + 6 * (limb * model.kept + depth)


@compiled_inside
def tip_unknown(kept: int, i: int) -> int:
    """Return where one of the unknowns of the string and the tips stands among all."""
    return i if i < BORDER + 6 else i + 6 * (kept - 1)


def new_path(n: int) -> Path:
    """Return an empty path for a chain of `n` nodes."""
    slack = np.zeros(2, dtype=np.int64)
    return Path(np.zeros((n, 3, 3)), np.zeros((n, 3)), np.zeros(BORDER), np.zeros(2), slack)


def new_work(model: Model) -> Work:
    """Return scratch arrays for a bow."""
    m = len(model.length)
    size, few = unknown_of(model, 2, 0), BORDER + 12
    return Work(
        diag=np.zeros((m + 1, 6, 6)),
        off=np.zeros((m, 6, 6)),
        rhs=np.zeros((m + 1, 6)),
        symmetric=np.zeros((size, size)),
        residual=np.zeros(size),
        rows=np.zeros((BORDER - TENSION, size)),
        reduced=np.zeros((size + BORDER - TENSION, size + 1)),
        small=np.zeros((few, few)),
        head=np.zeros((few, 1)),
        step=np.zeros(size),
    )
