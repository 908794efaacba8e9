"""Where the columns of a section's lattice stand, so that some of them follow given lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.section.meshing.outline import Outline, back_fraction, belly_fraction

# A line this near, in columns, to its neighbour or to an edge is not followed.
_TOO_NEAR = 0.05
# Between evenly spaced (0) and spaced like the cosine of an even angle (1); 0.7 keeps the torsion
# stiffness from square sections to strips 7.5 times as wide as thick within 1.4e-4 at a fineness of
# 0.75, within 5e-5 at 1.
_GRADING = 0.7


def column_fractions(outline: Outline, columns: int, breaks: Array | None) -> tuple[Array, Array]:
    """Return how far along the belly and along the back every column of nodes stands.

    Parameters
    ----------
    outline : Outline
        S stations.
    columns : int
        Elements from side to side.
    breaks : ndarray, shape (S, n, 2), m, or None
        y on the belly and on the back of lines that a column follows; nan for no line.  Lines
        that end on a side, cross each other or lie closer than a twentieth of a column are left
        out.

    Returns
    -------
    belly, back : ndarray, shape (S, 2 columns + 1)
    """
    stations = len(outline.half)
    place = _graded(columns)
    belly, back = np.tile(place, (stations, 1)), np.tile(place, (stations, 1))
    lines = _lines(outline, breaks)
    for s in np.flatnonzero(np.isfinite(lines[..., 0]).any(axis=1)):
        chosen = _compatible(lines[s], columns)
        nearest = np.interp(chosen.mean(axis=1), place[::2], np.arange(columns + 1))
        held = np.concatenate([[0.0], place[2 * _spread(nearest, columns)], [1.0]])
        belly[s] = np.interp(place, held, np.concatenate([[0.0], chosen[:, 0], [1.0]]))
        back[s] = np.interp(place, held, np.concatenate([[0.0], chosen[:, 1], [1.0]]))
    return belly, back


def _graded(columns: int) -> Array:
    """Return node places from 0 to 1, closer at both ends, where a wide limb's shear turns."""
    even = np.linspace(0.0, 1.0, columns + 1)
    ends = (1.0 - _GRADING) * even + _GRADING * 0.5 * (1.0 - np.cos(np.pi * even))
    place = np.empty(2 * columns + 1)
    place[::2], place[1::2] = ends, 0.5 * (ends[1:] + ends[:-1])
    return place


def _lines(outline: Outline, breaks: Array | None) -> Array:
    """Return belly and back fractions, shape (S, n, 2): given lines, then the belly corners'."""
    stations = len(outline.half)
    parts = []
    if breaks is not None:
        belly = belly_fraction(outline, breaks[..., 0])
        back = back_fraction(outline, breaks[..., 1])
        lost = np.isnan(belly) | ~((back > 0.0) & (back < 1.0))
        parts.append(np.where(lost[..., None], np.nan, np.stack([belly, back], axis=-1)))
    if outline.corner > 0.0:
        share = outline.belly_share[:, :, None]
        parts += [np.repeat(share, 2, axis=2), 1.0 - np.repeat(share, 2, axis=2)]
    if not parts:
        return np.full((stations, 0, 2), np.nan)
    return np.concatenate(parts, axis=1)


def _compatible(lines: Array, columns: int) -> Array:
    """Return the lines that can be followed, from -y to +y; earlier ones win."""
    gap = _TOO_NEAR / columns
    kept: list[Array] = []
    for line in lines[np.isfinite(lines[:, 0])]:
        clear = line.min() > gap and line.max() < 1.0 - gap
        for other in kept:
            step = line - other
            clear = clear and (step.min() > gap or step.max() < -gap)
        if clear and len(kept) < columns - 1:
            kept.append(line)
    kept.sort(key=lambda line: float(line[0]))
    return np.array(kept).reshape(-1, 2)


def _spread(wanted: Array, columns: int) -> NDArray[np.int64]:
    """Return increasing column numbers, from 1 to columns - 1, near the wanted places.

    Of two lines at one column one has to give way: to the side that leads less far away, so that a
    mirrored section has the mirrored mesh.
    """
    up = _pushed(wanted, columns)
    down = (columns - _pushed(columns - wanted[::-1], columns))[::-1]
    return up if np.abs(up - wanted).sum() <= np.abs(down - wanted).sum() else down


def _pushed(wanted: Array, columns: int) -> NDArray[np.int64]:
    """Return the same with every line pushed up that another one before it leaves no room."""
    at = np.rint(wanted).astype(np.int64)
    steps = np.arange(len(at))
    at = np.maximum.accumulate(np.maximum(at, 1) - steps) + steps
    back = np.minimum.accumulate((np.minimum(at, columns - 1) + steps[::-1])[::-1])[::-1]
    return np.asarray(back - steps[::-1], dtype=np.int64)
