"""Whether an equilibrium is stable, and the motion in which it gives way if it is not."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from limbfe.beam.model import DRAW, TIPS, Model, Record
from limbfe.frames import Array

Motion = Literal["sideways", "in the plane"]

CURE: dict[Motion, str] = {
    "sideways": "the least push sideways makes a limb kick over; make the limbs wider or "
    "straighter",
    "in the plane": "in the plane of the draw one limb bends further while the other straightens; "
    "give the tips less recurve, make the limbs thinner, or only their outer parts stiffer",
}
"""What happens to a bow that gives way so, and what helps."""

_SIDEWAYS = np.zeros(15, dtype=bool)
_SIDEWAYS[[1, 3, 5, 7, 9, 11, 13]] = True


def stable_states(model: Model, record: Record, string: Array, control: int) -> NDArray[np.bool_]:
    """Return whether the Hessian is positive on what the constraints leave free.

    Negative eigenvalues are counted by parts (the limbs' pivots, then the reduced system,
    Haynsworth 1968); each active multiplier adds one of its own.
    Without tension the bow is at rest, which is stable.

    Sections that yield enter with their tangent, as if every fibre that is being crushed went on
    being crushed whichever way the bow gives way: the tangent-modulus criterion, a lower bound
    (F. R. Shanley, The column paradox, 1946, and Inelastic column theory, Journal of the
    Aeronautical Sciences, 1947; from memory).
    """
    reduced = record.symmetric.copy()
    for i in range(2):
        reduced[:, 15 + i, 15 + i] = -string[i] / model.string_stiffness
    free, multipliers = (18, 3) if control in (DRAW, TIPS) else (17, 2)
    reduced = reduced[:, :free, :free]
    scale = np.sqrt(np.abs(reduced).max(axis=2))
    scale = np.where(scale > 0.0, scale, 1.0)
    reduced /= scale[:, :, None] * scale[:, None, :]
    negative = np.sum(np.linalg.eigvalsh(reduced) < 0.0, axis=1) + record.counts[:, 1]
    slack = np.all(record.borders[:, 3:5] <= 0.0, axis=1)
    stable: NDArray[np.bool_] = (negative == multipliers) | slack
    return stable


def softest_motion(model: Model, record: Record, control: int, which: int) -> Motion:
    """Return in which way the tips and the nocking point move most easily.

    The lowest mode of the energy of tips and nocking point, the limbs between in equilibrium with
    them, the string's length and the travel (when drawn) kept; rotations count as movements at the
    bow's length.  Sideways are movements along y and turns about x and z of the tip sections.

    Parameters
    ----------
    which : int
        Which of the states of `record`.
    """
    whole = record.symmetric[which]
    scale = np.ones(15)
    scale[[3, 4, 5, 9, 10, 11]] = 1.0 / model.size
    kept = whole[15 : 18 if control in (DRAW, TIPS) else 17, :15] * scale
    free = np.linalg.svd(kept)[2][len(kept) :].T
    energy = free.T @ (whole[:15, :15] * scale[:, None] * scale) @ free
    mode = free @ np.linalg.eigh(energy)[1][:, 0]
    share = float(mode[_SIDEWAYS] @ mode[_SIDEWAYS])
    return "sideways" if share > 0.5 else "in the plane"
