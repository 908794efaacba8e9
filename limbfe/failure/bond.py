"""Strength of the bond between a filling and the wood round it."""

from __future__ import annotations

import numpy as np

from limbfe.defect.zone import KnotTrace
from limbfe.frames import Array


def rim_used(stress: Array, start: Array, stop: Array, knot: KnotTrace, window: float) -> float:
    """Return the largest strength used of the bond along a filling's rim.

    Parameters
    ----------
    stress : ndarray, shape (s, 3), Pa
        In the filling, in the middle of each piece of the rim; strip axes.
    start, stop : ndarray, shape (s, 2), m
        Ends of the pieces, anticlockwise.
    knot : KnotTrace
        Filled.
    window : float, m
    """
    assert knot.bond_tension is not None
    assert knot.bond_shear is not None
    length = np.linalg.norm(stop - start, axis=1)
    t = (stop - start) / length[:, None]
    n = np.stack([t[:, 1], -t[:, 0]], axis=1)
    xx, yy, xy = stress.T
    pull = n[:, 0] ** 2 * xx + n[:, 1] ** 2 * yy + 2.0 * n[:, 0] * n[:, 1] * xy
    slip = (
        n[:, 0] * t[:, 0] * xx
        + n[:, 1] * t[:, 1] * yy
        + (n[:, 0] * t[:, 1] + n[:, 1] * t[:, 0]) * xy
    )
    near = _windows(length, 0.5 * (start + stop), window)
    pull, slip = near @ pull, near @ slip
    used = np.hypot(np.maximum(pull, 0.0) / knot.bond_tension, slip / knot.bond_shear)
    return float(used.max())


def _windows(length: Array, middle: Array, window: float) -> Array:
    """Averaging matrix over the sides whose middle lies within half a window."""
    apart = np.linalg.norm(middle[:, None] - middle[None, :], axis=2)
    weight = np.where(apart <= 0.5 * window, length[None, :], 0.0)
    mean: Array = weight / weight.sum(axis=1, keepdims=True)
    return mean
