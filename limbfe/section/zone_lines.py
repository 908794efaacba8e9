"""The sides of a zone that runs through the limb from belly to back, for columns to follow."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.stave.outline import back_z, belly_z
from limbfe.stave.profile import SectionShapes

_SAMPLES = 240
_BISECTIONS = 24

Inside = Callable[[Array, Array, Array], NDArray[np.bool_]]


def zone_lines(shapes: SectionShapes, inside: Inside) -> Array:
    """Return both sides of a zone at every station, for `section_mesh`'s ``y_breaks``.

    Parameters
    ----------
    shapes : SectionShapes
        S stations.
    inside : callable
        Takes x, y, z (m, section coordinates, each shape (S, n)) and tells which points lie in
        the zone.

    Returns
    -------
    ndarray, shape (S, 2, 2), m
        For the -y and the +y side, y where it meets the belly and the back.  nan where the zone
        does not show on both, as one that ends inside the limb or runs from side to side; and
        for a side that the limb's edge cuts off.

    Notes
    -----
    A zone thinner than 1/240 of the width may be missed.
    """
    on_belly = _sides(shapes, inside, belly_z)
    on_back = _sides(shapes, inside, back_z)
    lines = np.stack([on_belly, on_back], axis=-1)
    lines[np.isnan(lines).any(axis=-1)] = np.nan
    return lines


def _sides(
    shapes: SectionShapes, inside: Inside, surface: Callable[[SectionShapes, Array], Array]
) -> Array:
    """Return y of the zone's first and last point on a surface, shape (S, 2)."""
    half = 0.5 * np.asarray(shapes.width)[:, None]

    def shows(y: Array) -> NDArray[np.bool_]:
        return inside(np.broadcast_to(shapes.x[:, None], y.shape), y, surface(shapes, y))

    places = half * np.linspace(-1.0, 1.0, _SAMPLES + 1)
    seen = shows(places)
    sides = []
    for step in (1, -1):
        order = seen[:, ::step]
        first = order.argmax(axis=1)
        cut = ~order.any(axis=1) | order[:, 0]
        at = places[:, ::step]
        within = np.take_along_axis(at, first[:, None], axis=1)
        without = np.take_along_axis(at, np.maximum(first - 1, 0)[:, None], axis=1)
        for _ in range(_BISECTIONS):
            middle = 0.5 * (within + without)
            hit = shows(middle)
            within, without = np.where(hit, middle, within), np.where(hit, without, middle)
        sides.append(np.where(cut, np.nan, within[:, 0]))
    return np.stack(sides, axis=1)
