"""Where the rows of a section's lattice run, so that some of them follow sapwood and backing."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.section.meshing.outline import Outline
from limbfe.section.meshing.patch import Patch, patch_points
from limbfe.stave.outline import backing_z, sapwood_z
from limbfe.stave.profile import SectionShapes

# The thinnest band of rows, as a share of the column, where a layer is absent or runs out.
_THINNEST = 4e-3
_NO_LAYER = 1e-9
# Steps towards a layer boundary, most of which take eight; how near, as a share of the thickness.
_STEPS, _CLOSE = 60, 1e-13
# Least and greatest share of the heartwood's height that the rows beside a belly corner take.
_CORNER_ROWS = 0.02, 0.8
# A band's middle must be at least this share of the sum of its ends, or it may fold.
_NO_PINCH = 0.3
# Steepest slope of a row line: close under a strongly arched back a layer turns almost upright.
_STEEPEST = 3.0

Booleans = NDArray[np.bool_]
Counts = tuple[int, int, int, int]


def row_counts(shapes: SectionShapes, outline: Outline, rows: int) -> Counts:
    """Return rows beside the belly corners, in the rest of heartwood, sapwood and backing.

    Common to all stations: one row to whatever some station has, the rest one by one to the
    group with the thickest rows on average.
    """
    corner = float(outline.side_share.mean()) if outline.corner > 0.0 and rows > 3 else 0.0
    sapwood, backing = (
        _mean_share(layer / shapes.thickness) for layer in (shapes.sapwood, shapes.backing)
    )
    heart = max(1.0 - corner - sapwood - backing, 0.0)
    shares = np.array([corner, heart, sapwood, backing])
    counts = (shares > 0.0).astype(np.int64)
    counts[1] = 1
    while counts.sum() < rows:
        counts[np.argmax(shares / np.maximum(counts, 1))] += 1
    return int(counts[0]), int(counts[1]), int(counts[2]), int(counts[3])


def _mean_share(share: Array) -> float:
    present = share > _NO_LAYER
    return float(share[present].mean()) if present.any() else 0.0


def row_heights(shapes: SectionShapes, patch: Patch, counts: Counts) -> Array:
    """Return the height of every node on its column, from 0 on the belly to 1 on the back.

    Parameters
    ----------
    shapes : SectionShapes
    patch : Patch
        S stations, 2 columns + 1 lines from belly to back.
    counts : tuple of int
        As from `row_counts`.

    Returns
    -------
    ndarray, shape (S, 2 columns + 1, 2 rows + 1)

    Notes
    -----
    A boundary that leaves the section keeps a thin band of rows inside it.  Over a column where
    it does so, or where quadratic bands could fold, the lines are straight from end to end.
    """
    lines, kinked = _lines(shapes, patch, counts)
    gaps = np.diff(lines, axis=0)
    left, middle, right = gaps[..., :-1:2], gaps[..., 1::2], gaps[..., 2::2]
    kinked = kinked | (middle < _NO_PINCH * (left + right)).any(axis=0)
    straight = 0.5 * (lines[..., :-1:2] + lines[..., 2::2])
    lines[..., 1::2] = np.where(kinked, straight, lines[..., 1::2])
    pieces = [lines[0][..., None]]
    for (low, high), n in zip(pairwise(lines), [n for n in counts if n], strict=True):
        share = np.arange(1, 2 * n + 1) / (2 * n)
        pieces.append(low[..., None] + (high - low)[..., None] * share)
    return np.concatenate(pieces, axis=-1)


def _lines(shapes: SectionShapes, patch: Patch, counts: Counts) -> tuple[Array, Booleans]:
    """Return the heights of the lines between row groups and where cutting them off kinks them.

    Returns
    -------
    lines : ndarray, shape (groups + 1, S, 2 columns + 1)
    kinked : ndarray of bool, shape (S, columns)
    """
    corner, heart, sap, back = counts
    top = np.ones_like(patch.belly[:, :, 0, 0])
    lines, kinked = [top], np.zeros_like(top[:, 1::2], dtype=np.bool_)
    if back:
        wanted = _boundary_height(patch, lambda y: backing_z(shapes, y))
        absent = shapes.backing <= _NO_LAYER * shapes.thickness
        wanted[absent] = 1.0 - back / sum(counts)
        kinked = kinked | _add_line(lines, wanted, 2.0 * _THINNEST)
    if sap:
        wanted = _boundary_height(patch, lambda y: sapwood_z(shapes, y))
        absent = shapes.sapwood <= _NO_LAYER * shapes.thickness
        wanted[absent] = (corner + heart) / sum(counts)
        kinked = kinked | _add_line(lines, wanted, _THINNEST)
    if corner:
        lines.insert(0, lines[0] * _corner_height(patch.outline, lines[0]))
    return np.stack([0.0 * top, *lines]), kinked


def _add_line(lines: list[Array], wanted: Array, low: float) -> Booleans:
    """Put a line under the lowest one, kept between that and `low`; return where this kinks it."""
    high = lines[0] - _THINNEST
    beyond = np.where(wanted < low, -1, np.where(wanted > high, 1, 0))
    lines.insert(0, np.clip(wanted, low, high))
    changes = beyond[:, 1:] != beyond[:, :-1]
    return np.asarray(changes[:, ::2] | changes[:, 1::2])


def _corner_height(outline: Outline, above: Array) -> Array:
    """Return the line that leaves each side where its rounded corner ends, over the next one.

    In between it may run anywhere.
    """
    ends = np.clip(outline.side_share / above[:, [0, -1]], *_CORNER_ROWS)
    across = np.linspace(0.0, 1.0, above.shape[1])
    height: Array = ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * across
    return height


def _not_too_steep(patch: Patch, line: Array) -> Array:
    """Return the line raised where it falls more steeply than rows can follow."""
    y = patch.back[:, :, 0, 0]
    fall = _STEEPEST * np.abs(y[:, :, None] - y[:, None]) / (2.0 * patch.outline.top[:, :, None])
    raised: Array = (line[:, None] - fall).max(axis=2)
    return raised


def _boundary_height(patch: Patch, boundary: Callable[[Array], Array]) -> Array:
    """Return the height at which every column crosses a boundary, found by regula falsi.

    0 or 1 where the boundary lies outside, raised where it is too steep to follow.

    References
    ----------
    M. Dowell, P. Jarratt, A modified regula falsi method for computing the root of an equation,
    BIT 11 (1971), 168-174 (from memory: the Illinois method).
    """

    def above(height: Array) -> Array:
        y, z = np.moveaxis(patch_points(patch, height[..., None])[:, :, 0], -1, 0)
        over: Array = z - boundary(y)
        return over

    low, high = np.zeros(patch.near_left.shape[:2]), np.ones(patch.near_left.shape[:2])
    under, over = above(low), above(high)
    high[under >= 0.0], low[over < 0.0] = 0.0, 1.0
    outside = low == high
    under[outside], over[outside] = -1.0, 1.0
    was_below = np.zeros_like(outside)
    for _ in range(_STEPS):
        height = low + (high - low) * under / (under - over)
        found = np.where(outside, -1.0, above(height))
        below = found < 0.0
        # An end that is kept twice counts half: it would stay for ever.
        over = np.where(below, np.where(was_below, 0.5 * over, over), found)
        under = np.where(below, found, np.where(was_below, under, 0.5 * under))
        low, high = np.where(below, height, low), np.where(below, high, height)
        was_below = below
        if (outside | (np.abs(found) < _CLOSE * patch.outline.top)).all():
            break
    return _not_too_steep(patch, height)
