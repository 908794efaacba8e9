"""The lines to draw on the stave, at round stations and in the steps of a ruler."""

from __future__ import annotations

import numpy as np

from limbfe.frames import Array
from limbfe.studies.lay.results import LaidOut, Layout

EVERY = {"metric": 0.1, "imperial": 0.1016}
"""Stations of a table of lines, m: 100 mm, 4 in."""
STEPS = {"metric": 0.0005, "imperial": 0.0254 / 32.0}
"""Half a millimetre, a thirty-second of an inch: what a rule shows."""


def rough_lines(found: LaidOut, layout: Layout | None = None) -> dict[str, Array]:
    """Return lines at the stations of the finished limb, butt to top, m.

    Returns
    -------
    dict of str to ndarray
        ``station``, ``centre line``, then for the finished limb and every stage ``NAME left``,
        ``NAME right`` (to the right of the snapped line) and ``NAME thickness``.
    """
    one = layout or found.best
    laid, order = one.laid, np.argsort(one.laid.x)
    rows = {"station": laid.x[order], "centre line": laid.offset[order]}
    stretch = np.hypot(1.0, one.line.offset_at(laid.x, 1))
    for name, side, belly in (
        ("finished", 0.0, 0.0),
        *((stage.name, stage.side, stage.belly) for stage in found.stages),
    ):
        half = (0.5 * laid.width + side) * stretch
        # a rough line ends where the sound wood does
        low, high = found.log.edges(laid.x)
        rows[f"{name} left"] = np.maximum(laid.offset - half, low)[order]
        rows[f"{name} right"] = np.minimum(laid.offset + half, high)[order]
        thick = np.minimum(laid.thickness + belly, found.log.at("depth", laid.x))
        rows[f"{name} thickness"] = thick[order]
    return rows


def ruler_stations(found: LaidOut, layout: Layout, units: str) -> Array:
    """Return round stations from nock to nock, the nocks and the grip among them, m."""
    low, high = layout.line.nocks
    every = EVERY[units]
    first = np.ceil((low + 0.2 * every) / every)
    last = np.floor((high - 0.2 * every) / every)
    return np.unique([low, *(every * np.arange(first, last + 1)), high])


def in_steps(length: float, units: str) -> float:
    """Return a length rounded to what a rule shows, m."""
    step = STEPS[units]
    return round(length / step) * step
