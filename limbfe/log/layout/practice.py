"""What common practice keeps knots from, whatever their strength: edges, and the middle third.

A local model knows the knot of the sheet.  A bowyer knows that a knot in an edge lifts while the
edge is worked, hides how far it goes in, and that the limb bends most in its middle: so one lays a
knot well within the limb or leaves it outside, and near a tip or the grip if it may be (common
practice).  The figures here say how much that is worth beside what a search weighs otherwise; they
are choices, not measured.
"""

from __future__ import annotations

import numpy as np

from limbfe.frames import Array

EDGE = 1.0
"""Cost of a knot in the edge of the limb where it is strained most: as much as that of one within
the limb that uses 0.84 of its strength."""
CLEAR, GONE = 2.0, 1.5
"""Radii from a knot's middle to the edge at which it is clear of it: within the limb half a
diameter of wood beside it; outside a quarter, since only its swirl is then left in the limb."""
FULL_SIZE = 0.2
"""Diameter over the limb's width from which a knot in the edge counts in full; a pin is less."""
MIDDLE = 0.05
"""Cost of a knot in the middle of a limb's length, falling to none at the ends of its middle third:
it only decides between lines that are as good otherwise."""
CHECK = 0.4
"""Cost of a bow that lies beside the whole of a check: one saws checked ends off where the stave is
long enough, since a check follows the grain and runs further than it shows (common practice)."""


def beside_check(low: float, high: float, check: tuple[float, float]) -> float:
    """Return the share of a check's length that a bow from `low` to `high` lies beside; m."""
    start, end = check
    return float(np.clip((min(high, end) - max(low, start)) / (end - start), 0.0, 1.0))


def at_edge(across: Array, radius: Array, half: float) -> Array:
    """Return how much a knot lies in the edge, 1 where it is cut, 0 where it is clear of it.

    Parameters
    ----------
    across, radius : ndarray, m
        Of the knot, from the limb's middle line.
    half : float, m
        Half the width of the limb.
    """
    radii = (np.abs(across) - half) / np.maximum(radius, 1e-9)
    clear = np.where(radii < 0.0, CLEAR, GONE)
    share: Array = np.clip((clear - np.abs(radii)) / (clear - 1.0), 0.0, 1.0)
    return share


def in_limb(across: Array, radius: Array, half: float) -> Array:
    """Return how much of a knot the limb holds, 0 to 1 as its middle passes the edge; as above."""
    share: Array = np.clip(0.5 + 0.5 * (half - np.abs(across)) / np.maximum(radius, 1e-9), 0.0, 1.0)
    return share


def in_middle_third(share: float) -> float:
    """Return 1 in the middle of a limb, 0 outside its middle third; `share` of it from the grip."""
    return max(1.0 - abs(share - 0.5) * 6.0, 0.0)
