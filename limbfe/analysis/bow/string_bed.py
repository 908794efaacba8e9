"""The line along the limbs' belly that the string lies on where it meets them."""

from __future__ import annotations

import numpy as np

from limbfe.analysis.bow.setup import BowSetup
from limbfe.beam import StringBed
from limbfe.frames import Array
from limbfe.stave.profile import axis_at, shape_at

GROOVE = 12.0
"""Length of the groove that leads a string tied behind the belly out onto it, over the depth of the
nock below the belly: it begins at 1 in 6 and ends level (assumed).  A string that stands steeper
than that off a tip, as that of any straight bow does, goes clear of it."""
_STEP = 1e-5
"""Step (m) of the difference quotient of the line's direction."""


def string_bed(setup: BowSetup, node_x: Array) -> StringBed:
    """Return the bed of a bow's string at the beam's nodes.

    The middle of the belly, half the thickness from the axis; towards each tip a groove on the
    middle line that begins at the nock, `nock_offset` from mid-thickness, and comes up onto the
    belly as a parabola.

    Parameters
    ----------
    setup : BowSetup
    node_x : ndarray, shape (n,), m
        From the lower to the upper nock.
    """
    low, high = float(node_x[0]), float(node_x[-1])
    sides = np.clip([node_x - _STEP, node_x + _STEP], low, high)
    x = np.stack([node_x, *sides])
    places, frames = axis_at(setup.stave, x.ravel())
    arm = _arms(setup, x.ravel(), np.diff(node_x)[[0, -1]])
    line = (places + np.einsum("nij,nj->ni", frames, arm)).reshape(3, -1, 3)
    along = np.einsum("nji,nj->ni", frames[: len(node_x)], line[2] - line[1])
    return StringBed(arm=arm[: len(node_x)], slope=along[:, 1:] / along[:, :1])


def _arms(setup: BowSetup, x: Array, last: Array) -> Array:
    """Return the arms (k, 3) at places (k,) of a beam whose elements at the nocks are `last` long.

    A groove shorter than its element would be a bump between two nodes, of any height.
    """
    stave = setup.stave
    ends = np.array([stave.x[0], stave.x[-1]])
    belly = -0.5 * shape_at(stave, x).thickness
    arm = np.zeros((len(x), 3))
    arm[:, 2] = belly
    depths = setup.stringing.nock_offset + 0.5 * shape_at(stave, ends).thickness
    for end, depth, element in zip(ends, depths, last, strict=True):
        length = max(min(GROOVE * abs(depth), 0.5 * abs(end)), element)
        left = np.clip(1.0 - np.abs(x - end) / length, 0.0, None)
        arm[:, 2] += depth * left**2
    return arm
