"""The largest knot that a bow bears, anywhere on back and belly, from the table of strengths."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.frames import Array, read_only
from limbfe.log.layout.practice import CLEAR
from limbfe.log.layout.strength import ZoneStrength
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave

LARGEST = 0.4
"""Of the width: no larger knot is looked at."""
STATIONS, ACROSS, DIAMETERS = 91, 33, 41
"""Places of a map along and across, and diameters that are tried at each."""
FACES = ("back", "belly")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AllowedKnots:
    """Largest knots of one state on one face, shape (n, m), m across the grain on that face.

    Attributes
    ----------
    sound, unbroken : ndarray
        Up to which a knot is sound; up to which neither fibres break nor a split runs.  0 where the
        smallest is not, NaN in the stiff grip.  None is called sound that has less than half its
        diameter of wood between its rim and the edge: common practice trusts no knot in an edge.
    most : ndarray
        Largest that was looked at: where a figure is as large, still larger ones may do.
    """

    sound: Array
    unbroken: Array
    most: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnotMap:
    """The largest knots that a bow bears at its draw.

    Attributes
    ----------
    s : ndarray, shape (n,), m
        Stations from the middle of the grip, up positive.
    share : ndarray, shape (m,)
        Places across, from -1 to 1, over half the width.
    width : ndarray, shape (n,), m
    allowed : mapping of (state, face) to AllowedKnots
    """

    s: Array
    share: Array
    width: Array
    allowed: dict[tuple[str, str], AllowedKnots]

    @property
    def states(self) -> tuple[str, ...]:
        """The states that were looked at."""
        return tuple(dict.fromkeys(state for state, _ in self.allowed))


def allowed_knots(stave: Stave, strength: ZoneStrength) -> KnotMap:
    """Return the largest knots on back and belly.

    Parameters
    ----------
    stave : Stave
        The clear bow.
    strength : ZoneStrength
        Its table.

    Notes
    -----
    With the depth of the pith known a knot that shows on the belly is a cone that comes from there
    (as a case takes it): on the back it lies further out and is larger in proportion to the
    distance from the pith.  Else, and in a bow whose pith is in the limb, it is as large there.
    """
    s = np.linspace(stave.x[0], stave.x[-1], STATIONS)
    shapes = shape_at(stave, s)
    width, share = np.asarray(shapes.width), np.linspace(-1.0, 1.0, ACROSS)
    grown = cone_growth(stave, s)
    sizes = np.linspace(0.0, LARGEST, DIAMETERS)
    allowed = {}
    for state in strength.tables:
        for face in FACES:
            k = grown[:, None] if face == "belly" else np.ones((len(s), 1))
            place = np.abs(share)[None, :] * k
            worked = strength.share("crushing", state, s[:, None, None], sizes, place[..., None])
            pulled = strength.share("unsound", state, s[:, None, None], sizes, place[..., None])
            breaking = strength.share("breaking", state, s[:, None, None], sizes, place[..., None])
            found = [
                read_only(_largest(used, sizes, stave, s) * width[:, None] / k)
                for used in (np.maximum(worked, pulled), breaking)
            ]
            # as much of the limb as the cone leaves beside it, on the face and on the back
            beside = np.minimum(1.0 - np.abs(share), (1.0 - place) / k)
            clear = np.maximum(width[:, None] * beside / CLEAR, 0.0)
            found[0] = read_only(np.minimum(found[0], clear))
            most = read_only(LARGEST * width[:, None] / k + 0.0 * place)
            allowed[state, face] = AllowedKnots(sound=found[0], unbroken=found[1], most=most)
    return KnotMap(s=read_only(s), share=read_only(share), width=read_only(width), allowed=allowed)


def cone_growth(stave: Stave, s: Array) -> Array:
    """Return how much larger a knot from the pith is on the back than on the belly, at `s`."""
    radius = np.broadcast_to(stave.grain.ring_radius, stave.x.shape)
    if not np.all(np.isfinite(radius)):
        return np.ones(s.shape)
    depth = np.interp(s, stave.x, radius)
    left = depth - np.asarray(shape_at(stave, s).thickness)
    grown: Array = np.where(left > 0.0, depth / np.maximum(left, 1e-6), 1.0)
    return grown


def _largest(used: Array, sizes: Array, stave: Stave, s: Array) -> Array:
    """Return the largest size up to which every one holds, shape (n, m); NaN in the grip."""
    worst = np.maximum.accumulate(used, axis=-1)
    count = np.sum(worst < 1.0, axis=-1)
    k = np.clip(count, 1, len(sizes) - 1)
    low = np.take_along_axis(worst, k[..., None] - 1, -1)[..., 0]
    high = np.take_along_axis(worst, k[..., None], -1)[..., 0]
    step = np.clip((1.0 - low) / np.maximum(high - low, 1e-12), 0.0, 1.0)
    size = np.where(count == 0, 0.0, sizes[k - 1] + step * (sizes[k] - sizes[k - 1]))
    size = np.where(count == len(sizes), sizes[-1], size)
    out: Array = np.where((np.abs(s) < stave.half_grip)[:, None], np.nan, size)
    return out
