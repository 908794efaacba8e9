"""A stave made thinner or thicker: wood comes off its belly."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from limbfe.frames import Array
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave


def with_thickness(stave: Stave, thickness: Any) -> Stave:
    """Return the stave with another thickness, its back left as it is.

    Parameters
    ----------
    stave : Stave
    thickness : array_like, shape (n,), m
        At the stave's own stations.

    Returns
    -------
    Stave
        Sapwood and backing keep their depth below the back, knots and patches their place in the
        log: section coordinates count from mid-thickness, which moves by half of what the belly
        loses.

    Raises
    ------
    GeometryError
        If nothing is left of the limb or of its heartwood.
    """
    bare = replace(stave, thickness=thickness, knots=(), decays=())

    def moved(point: Array) -> Array:
        """Return a point of the log in the coordinates of the new section."""
        before, after = (float(shape_at(one, point[:1]).thickness[0]) for one in (stave, bare))
        return np.add(point, [0.0, 0.0, 0.5 * (after - before)])

    return replace(
        bare,
        knots=tuple(replace(knot, entry=moved(knot.entry)) for knot in stave.knots),
        decays=tuple(replace(decay, center=moved(decay.center)) for decay in stave.decays),
    )
