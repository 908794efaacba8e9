"""Which wood, knot and patch of rot lies at each point of the limb."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.stave.decay import inside_decay
from limbfe.stave.grain import shapes_for
from limbfe.stave.knot import inside_knot, knot_span
from limbfe.stave.outline import backing_z, sapwood_z
from limbfe.stave.profile import SectionShapes
from limbfe.stave.stave import Stave

Index = NDArray[np.int16]
HEART, SAP, BACKING = 0, 1, 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Zones:
    """What lies at each point.

    Attributes
    ----------
    wood : ndarray of int, shape (...)
        0 heartwood, 1 sapwood, 2 backing.
    knot, decay : ndarray of int, shape (...)
        Index in the stave's knots and decays, -1 for none; where two overlap, the later one.
    """

    wood: Index
    knot: Index
    decay: Index


def zone_at(stave: Stave, x: Any, y: Any, z: Any) -> Zones:
    """Return which wood, knot and decay lie at each point.

    Parameters
    ----------
    stave : Stave
    x, y, z : array_like, m, section coordinates
        Broadcast against each other.

    Returns
    -------
    Zones
        Arrays of the broadcast shape.

    Raises
    ------
    GeometryError
        If a point lies beyond a tip.
    """
    return find_zones(stave, shapes_for(stave, x, y, z), x, y, z)


def find_zones(stave: Stave, shapes: SectionShapes, x: Any, y: Any, z: Any) -> Zones:
    """Return the zones at points whose section sizes are known; see `zone_at`."""
    x, y, z = (np.asarray(p, dtype=np.float64) for p in (x, y, z))
    shape = np.broadcast_shapes(x.shape, y.shape, z.shape)
    wood = np.zeros(shape, dtype=np.int16)
    if stave.sapwood_wood is not None:
        wood[np.broadcast_to(z > sapwood_z(shapes, _stretch(y, shapes)), shape)] = SAP
    if stave.backing_wood is not None:
        wood[np.broadcast_to(z > backing_z(shapes, _stretch(y, shapes)), shape)] = BACKING
    knot = np.full(shape, -1, dtype=np.int16)
    for index, item in enumerate(stave.knots):
        near = _between(x, *knot_span(item), shape)
        knot[near] = np.where(inside_knot(item, *_pick(near, x, y, z)), index, knot[near])
    decay = np.full(shape, -1, dtype=np.int16)
    for index, patch in enumerate(stave.decays):
        reach = float(patch.semi_axes[0])
        near = _between(x, float(patch.center[0]) - reach, float(patch.center[0]) + reach, shape)
        decay[near] = np.where(inside_decay(patch, *_pick(near, x, y, z)), index, decay[near])
    return Zones(wood=wood, knot=knot, decay=decay)


def _stretch(y: Array, shapes: SectionShapes) -> Array:
    """Return `y` with at least as many axes as the sizes it is compared with."""
    ndim = np.ndim(shapes.width)
    return y.reshape((1,) * (ndim - y.ndim) + y.shape) if y.ndim < ndim else y


def _between(x: Array, low: float, high: float, shape: tuple[int, ...]) -> tuple[Any, ...]:
    """Return the indices of the points whose station lies in a range."""
    near = (x >= low) & (x <= high)
    if not np.any(near):
        return tuple(np.empty((len(shape), 0), dtype=np.intp)) if shape else (np.array(False),)
    return np.nonzero(np.broadcast_to(near, shape)) if shape else (near,)


def _pick(index: tuple[Any, ...], *arrays: Array) -> tuple[Array, ...]:
    return tuple(a[index] for a in np.broadcast_arrays(*arrays))
