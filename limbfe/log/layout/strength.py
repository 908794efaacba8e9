"""How much of its strength a knot would use, by its size and place: a table for one bow.

A zone is worked by the limb's strain where it lies.  So the strength that a knot uses is taken as
that of the clear limb at its station times a factor that hangs on the knot's share of the width and
on its place across.  The factors come from local models of this bow (`limbfe.studies.lay`), or, for
a first answer, from the width that is left.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array, read_only


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneStrength:
    """Strength used by a knot on this bow.

    Attributes
    ----------
    s, clear : ndarray, shape (n,)
        Stations of the bow (m from the grip, up positive) and the strength used by clear wood.
    sizes : ndarray, shape (a,)
        Diameter over width, growing from 0.
    places : ndarray, shape (b,)
        Distance from the middle over half the width, growing from 0.
    factors : mapping of state to ndarray, shape (a, b)
        Strength used over that of clear wood; 1 for no knot.
    tabulated : bool
        Whether local models stand behind it.
    notes : tuple of str
        What its reader is to be told.
    """

    s: Array
    clear: Array
    sizes: Array
    places: Array
    factors: dict[str, Array]
    tabulated: bool
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in ("s", "clear", "sizes", "places"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    def used(self, state: str, s: Any, size: Any, place: Any) -> Array:
        """Return the strength used, shape of the broadcast arguments.

        Parameters
        ----------
        state : str
        s : array_like, m
            Station on the bow.
        size : array_like
            Diameter over width.
        place : array_like
            Distance of its middle from the limb's middle over half the width.

        Notes
        -----
        Straight between the table's sizes and places, its outermost figures going on outside; past
        the edge it falls to that of clear wood at three radii, where a knot's swirl ends.
        Nothing is judged in the stiff grip, where clear wood uses nothing.
        """
        size, place = np.broadcast_arrays(np.asarray(size, float), np.abs(place))
        clear = np.interp(s, self.s, self.clear)
        over = np.maximum(place - 1.0, 0.0)
        reach = np.maximum(3.0 * size, 1e-12)  # three radii in half widths
        left = np.clip(1.0 - over / reach, 0.0, 1.0)
        factor = 1.0 + left * (self._factor(state, size, np.minimum(place, 1.0)) - 1.0)
        used: Array = clear * np.where(left > 0.0, factor, 0.0)
        return used

    def _factor(self, state: str, size: Array, place: Array) -> Array:
        table = self.factors[state if state in self.factors else "dead"]
        i, u = _between(self.sizes, size)
        j, v = _between(self.places, place)
        low = (1.0 - v) * table[i, j] + v * table[i, j + 1]
        high = (1.0 - v) * table[i + 1, j] + v * table[i + 1, j + 1]
        factor: Array = (1.0 - u) * low + u * high
        return factor


def _between(breaks: Array, values: Array) -> tuple[NDArray[np.intp], Array]:
    index = np.clip(np.searchsorted(breaks, values, side="right") - 1, 0, len(breaks) - 2)
    share = (values - breaks[index]) / (breaks[index + 1] - breaks[index])
    return index, np.maximum(share, 0.0)


def width_left(sizes: Array, places: Array) -> Array:
    """Return factors from the width that is left, shape (a, b), for a first look.

    Notes
    -----
    Clear wood bears 1 over the share of the width that is left in the middle of the limb, and
    that squared at its edge: the shape of the allowances for knots in the middle and at the edge of
    a wide face in timber grading (ASTM D245, from memory), not their numbers.
    """
    share = np.minimum(sizes, 0.9)[:, None]
    power = 1.0 + np.clip(places, 0.0, 1.0)[None, :] ** 2
    factors: Array = (1.0 - share) ** -power
    return factors
