"""A stave made thinner or thicker, its wood off the belly, or described at more stations."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from limbfe.frames import Array
from limbfe.stave.columns import COLUMNS, column_curve, read_between
from limbfe.stave.stave import Stave, column, with_columns


def reshaped(stave: Stave, *, thickness: Array | None = None, width: Array | None = None) -> Stave:
    """Return the stave with another thickness or width at its stations, its back untouched.

    Parameters
    ----------
    stave : Stave
    thickness, width : ndarray, shape (n,), m, optional
        At the stations; a column that is not given stays.

    Returns
    -------
    Stave
        Wood is taken off (or left on) at the belly and at both sides; sapwood and backing keep
        their depth; knots and decay stay where they lie below the back, so their section
        coordinates, which count from mid-thickness, move.

    Raises
    ------
    GeometryError
        If nothing is left of the limb or of its heartwood.
    """
    new_thickness = stave.thickness if thickness is None else thickness
    both = column_curve(stave.x, np.stack([new_thickness, stave.thickness], axis=1), size=True)

    def moved(place: Array) -> Array:
        new, old = both(place[0])
        up = 0.5 * float(new - old)
        return np.asarray(place + np.array([0.0, 0.0, up]))

    return replace(
        stave,
        thickness=new_thickness,
        width=stave.width if width is None else width,
        knots=tuple(replace(knot, entry=moved(knot.entry)) for knot in stave.knots),
        decays=tuple(replace(patch, center=moved(patch.center)) for patch in stave.decays),
    )


def with_more_stations(stave: Stave, x: Any) -> Stave:
    """Return the stave with its columns read at further stations `x`, shape (k,), m."""
    stations = np.unique(np.concatenate([stave.x, x]))
    return resampled(stave, stations)


def resampled(stave: Stave, x: Array) -> Stave:
    """Return the stave with its columns read at other stations, which may leave out its ends."""
    columns = {name: column(stave, name) for name in COLUMNS}
    return with_columns(stave, x=x, **read_between(stave.x, columns, x))
