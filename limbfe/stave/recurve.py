"""Where a limb is bent so sharply that no stave grows so: recurves, bent in by heat."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.stave.columns import column_curve
from limbfe.stave.stave import Stave

RECURVED = 0.5
"""Radius (m) of the unstrung limb below which it is a recurve: of the shipped recurve 0.24 m, of no
shipped reflex less than 0.6 m."""


def bent_sharply(x: Array, reflex: Array) -> NDArray[np.bool_]:
    """Return where a back turns towards the target as a recurve does, shape (n,).

    Parameters
    ----------
    x, reflex : ndarray, shape (n,), m
    """
    turn = np.diff(np.arctan2(np.diff(reflex), np.diff(x)))
    return np.pad(turn > 0.5 * (x[2:] - x[:-2]) / RECURVED, 1)


def recurved(stave: Stave) -> NDArray[np.bool_]:
    """Return the stations from the one of each limb at which its recurve has begun, shape (n,)."""
    sharp = bent_sharply(stave.x, stave.reflex)
    found = np.zeros(stave.x.shape, dtype=np.bool_)
    for limb in (stave.x < -stave.half_grip, stave.x > stave.half_grip):
        if np.any(sharp & limb):
            start = float(np.abs(stave.x[sharp & limb]).min())
            found |= limb & (np.abs(stave.x) >= start)
    return found


def bent_in(stave: Stave, s: Array) -> Array:
    """Return how far the back is bent towards the target at stations, m: 0 without a recurve."""
    if not np.any(recurved(stave)):
        return np.zeros(np.shape(s))
    return column_curve(stave.x, stave.reflex, size=False)(s)
