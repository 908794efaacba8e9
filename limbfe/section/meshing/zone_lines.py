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
    half = 0.5 * np.asarray(shapes.width)[:, None, None]
    # Belly and back beside each other, the places on each from the -y and from the +y side.
    across = np.repeat(half * np.linspace(-1.0, 1.0, _SAMPLES + 1), 2, axis=1)
    showing = _shows(shapes, inside, across)
    places = np.stack([across, across[..., ::-1]], axis=2)
    seen = np.stack([showing, showing[..., ::-1]], axis=2)
    first = seen.argmax(axis=-1)[..., None]
    cut = ~seen.any(axis=-1) | seen[..., 0]
    within = np.take_along_axis(places, first, axis=-1)[..., 0]
    without = np.take_along_axis(places, np.maximum(first - 1, 0), axis=-1)[..., 0]
    for _ in range(0 if cut.all() else _BISECTIONS):
        middle = 0.5 * (within + without)
        hit = _shows(shapes, inside, middle)
        within, without = np.where(hit, middle, within), np.where(hit, without, middle)
    lines = np.where(cut, np.nan, within).swapaxes(1, 2)
    lines[np.isnan(lines).any(axis=-1)] = np.nan
    return lines


def _shows(shapes: SectionShapes, inside: Inside, y: Array) -> NDArray[np.bool_]:
    """Return where the zone shows at `y`, shape (S, 2, n): on the belly and on the back."""
    z = np.stack([belly_z(shapes, y[:, 0]), back_z(shapes, y[:, 1])], axis=1)
    flat = (len(y), -1)
    x = np.broadcast_to(shapes.x[:, None], (len(y), y[0].size))
    return inside(x, y.reshape(flat), z.reshape(flat)).reshape(y.shape)
