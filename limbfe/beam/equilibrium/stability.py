"""Whether an equilibrium is stable, and the motion in which it gives way if it is not."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from limbfe.beam.model import BORDER, DRAW, POINT, PULL, TENSION, TIPS, Equilibrium, Model

Motion = Literal["sideways", "in the plane"]

CURE: dict[Motion, str] = {
    "sideways": "the least push sideways makes a limb kick over; make the limbs wider, straighter "
    "or thinner (how thin a blank has to get, the command size tells)",
    "in the plane": "in the plane of the draw one limb bends further while the other straightens; "
    "give the tips less recurve, make the limbs thinner, or only their outer parts stiffer",
}
"""What happens to a bow that gives way so, and what helps."""


def stable_states(model: Model, points: Sequence[Equilibrium], control: int) -> NDArray[np.bool_]:
    """Return whether the Hessian is positive on what the constraints leave free.

    Negative eigenvalues are counted by parts (the limbs' pivots, then the reduced system,
    Haynsworth 1968); each multiplier, active or not, adds one of its own.
    Without tension the bow is at rest, which is stable.

    Sections that yield enter with their tangent, as if every fibre that is being crushed went on
    being crushed whichever way the bow gives way: the tangent-modulus criterion, a lower bound
    (F. R. Shanley, The column paradox, 1946, and Inelastic column theory, Journal of the
    Aeronautical Sciences, 1947; from memory).
    """
    reduced = np.stack([point.least for point in points])
    tension = np.stack([point.path.border[TENSION:PULL] for point in points])
    string = np.stack([point.path.string for point in points])
    for part in range(2):
        slack = tension[:, part] <= 0.0
        stretch = -string[:, part] / model.string_stiffness
        reduced[:, TENSION + part, TENSION + part] = np.where(slack, -1.0, stretch)
    multipliers = multipliers_of(control)
    free = [i for i in range(reduced.shape[1]) if i in multipliers or not TENSION <= i < BORDER]
    reduced = reduced[:, free][:, :, free]
    scale = np.sqrt(np.abs(reduced).max(axis=2))
    scale = np.where(scale > 0.0, scale, 1.0)
    reduced /= scale[:, :, None] * scale[:, None, :]
    negative = np.sum(np.linalg.eigvalsh(reduced) < 0.0, axis=1)
    negative += [point.pivots for point in points]
    at_rest = np.all(tension <= 0.0, axis=1)
    stable: NDArray[np.bool_] = (negative == len(multipliers)) | at_rest
    return stable


def multipliers_of(control: int) -> list[int]:
    """Return the tensions, and the pull where a movement is prescribed that it does work over."""
    return list(range(TENSION, BORDER if control in (DRAW, TIPS) else PULL))


def softest_motion(model: Model, point: Equilibrium, control: int) -> Motion:
    """Return in which way the kept nodes (the tips) and the nocking point move most easily.

    The lowest mode of their energy, the limbs between in equilibrium with them, the string's
    length and the travel (when drawn) kept; rotations count as movements at the bow's length.
    Sideways are movements along y and turns about x and z of the sections.
    """
    whole = point.symmetric
    moving = [*range(POINT, TENSION), *range(BORDER, len(whole))]
    turns, sideways = np.zeros(len(whole), dtype=bool), np.zeros(len(whole), dtype=bool)
    sideways[POINT + 1] = True
    for k in range(6):
        turns[BORDER + k :: 6] = k >= 3
        sideways[BORDER + k :: 6] = k in (1, 3, 5)
    scale = np.where(turns, 1.0 / model.size, 1.0)[moving]
    kept = whole[np.ix_(multipliers_of(control), moving)] * scale
    kept = kept[np.any(kept != 0.0, axis=1)]
    free = np.linalg.svd(kept)[2][len(kept) :].T
    energy = free.T @ (whole[np.ix_(moving, moving)] * scale[:, None] * scale) @ free
    mode = free @ np.linalg.eigh(energy)[1][:, 0]
    share = float(mode[sideways[moving]] @ mode[sideways[moving]])
    return "sideways" if share > 0.5 else "in the plane"
