"""A stave made thinner or thicker, its wood off the belly, or described at more stations."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from limbfe.curves import monotone_cubic
from limbfe.frames import Array
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import COLUMNS, Stave


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


def with_more_stations(stave: Stave, x: Any) -> Stave:
    """Return the stave with its columns read at further stations `x`, shape (k,), m."""
    stations = np.unique(np.concatenate([stave.x, x]))
    columns = np.stack([getattr(stave, name) for name in COLUMNS], axis=1)
    values = monotone_cubic(stave.x, columns)(stations)
    read: dict[str, Any] = {name: values[:, k] for k, name in enumerate(COLUMNS)}
    return replace(stave, x=stations, **read)
