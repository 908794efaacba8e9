"""What zones give a beam besides its sections, as the model of a bow holds it.

Apart from how it is found (`zone_give`), so that a bow without zones loads no plates.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.frames import Array, read_only
from limbfe.units import Words


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneGive:
    """What the elements of a beam give besides their sections.

    Attributes
    ----------
    give : ndarray, shape (n - 1, 6, 6)
        See `limbfe.beam.Chain`.
    words : tuple of Words
        Which zones the beam counts by their sections alone, and why.
    """

    give: Array
    words: tuple[Words, ...] = ()


def no_give(elements: int) -> ZoneGive:
    """Return that of a bow of so many elements without any zone."""
    return ZoneGive(give=read_only(np.zeros((elements, 6, 6))))
