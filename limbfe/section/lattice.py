"""Node lattices of limb sections: columns from side to side, rows from belly to back.

A square is mapped onto the outline, straight across except near the curved sides; then the rows
slide along their columns until they lie on the sapwood and backing boundaries.  A boundary that
leaves the section (leaning sapwood that runs out at one edge) keeps a thin row inside it, so the
topology never changes; the wood in that row is still found point by point.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.section.columns import column_fractions
from limbfe.section.outline import (
    Outline,
    back_curve,
    belly_curve,
    section_outline,
    side_curve,
)
from limbfe.stave.outline import backing_z, sapwood_z
from limbfe.stave.profile import SectionShapes

# The thinnest band of rows, as a share of the column, where a layer is absent or runs out.
_THINNEST = 4e-3
_COLUMNS, _ROWS = 16, 8
_NO_LAYER = 1e-9
# How far from a side, as a share of the width, its curve bends the columns.
_BENT = 0.35
_BISECTIONS = 40
# A rounded corner that reaches above this share of the heartwood's side gets no row of its own.
_HIGHEST_CORNER = 0.8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lattice:
    """Nodes of S sections on a lattice of 2 columns + 1 by 2 rows + 1.

    Attributes
    ----------
    columns, rows : int
        Elements from side to side and from belly to back.
    nodes : ndarray, shape (S, n, 2), m
        (y, z), numbered from belly to back, column after column from -y.
    layer_of_row : ndarray of int, shape (rows,)
    """

    columns: int
    rows: int
    nodes: Array
    layer_of_row: NDArray[np.int64]


def section_lattice(shapes: SectionShapes, fineness: float, breaks: Array | None) -> Lattice:
    """Return the node lattice of every station.

    Parameters
    ----------
    shapes : SectionShapes
    fineness : float
        Multiplies the number of elements in each direction.
    breaks : ndarray, shape (S, n, 2), m, or None
        Lines for columns to follow, as in `column_fractions`.

    Raises
    ------
    GeometryError
        Where an outline collapses.
    """
    outline = section_outline(shapes)
    columns = max(2, round(_COLUMNS * fineness))
    square = _Square(outline, *column_fractions(outline, columns, breaks))
    counts = _row_counts(shapes, outline, max(2, round(_ROWS * fineness)))
    nodes = square.points(_row_heights(shapes, square, counts))
    return Lattice(
        columns=columns,
        rows=sum(counts),
        nodes=nodes.reshape(len(nodes), -1, 2),
        layer_of_row=np.repeat([0, 0, 1, 2], counts),
    )


class _Square:
    """The map from (column, height) to the section; columns are fixed when it is made.

    Notes
    -----
    A Coons patch (S. A. Coons, Surfaces for computer-aided design of space forms, MIT MAC-TR-41,
    1967; from memory) whose side terms fade out before the middle, so that columns there are
    straight lines from belly to back.
    """

    def __init__(self, outline: Outline, belly: Array, back: Array) -> None:
        self.outline = outline
        self.belly = belly_curve(outline, belly)[:, :, None]
        self.back = back_curve(outline, back)[:, :, None]
        across = 0.5 * (belly + back)[:, :, None, None]
        self.near_left = np.maximum(1.0 - across / _BENT, 0.0) ** 2
        self.near_right = np.maximum(1.0 - (1.0 - across) / _BENT, 0.0) ** 2

    def points(self, height: Array) -> Array:
        """Return points (S, columns, n, 2) at heights (S, columns, n) from 0 to 1."""
        h = height[..., None]
        start, end = self.belly[:, :1], self.back[:, :1]
        side = side_curve(self.outline, height.reshape(len(height), -1)).reshape(*height.shape, 2)
        bulge = side - (start + h * (end - start))
        straight = self.belly + h * (self.back - self.belly)
        mirrored = bulge * np.array([-1.0, 1.0])
        return np.asarray(straight + self.near_left * bulge + self.near_right * mirrored)


def _row_counts(shapes: SectionShapes, outline: Outline, rows: int) -> tuple[int, int, int, int]:
    """Return rows beside the belly corners, in the rest of heartwood, sapwood and backing.

    Common to all stations: one row to whatever some station has, the rest one by one to the
    group with the thickest rows on average.
    """
    corner = outline.side_share.mean() if outline.corner > 0.0 and rows > 3 else 0.0
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


def _row_heights(
    shapes: SectionShapes, square: _Square, counts: tuple[int, int, int, int]
) -> Array:
    """Return the square's height coordinate of every node, shape (S, columns, rows)."""
    corner, heart, sap, back = counts
    zero, total = np.zeros(square.near_left.shape[:2]), sum(counts)
    lines = [zero + 1.0]
    if back:
        z = _boundary_height(square, lambda y: backing_z(shapes, y))
        absent = shapes.backing <= _NO_LAYER * shapes.thickness
        z = np.where(absent[:, None], (total - back) / total, z)
        lines.insert(0, _kept_inside(z, 2.0 * _THINNEST, 1.0 - _THINNEST))
    if sap:
        z = _boundary_height(square, lambda y: sapwood_z(shapes, y))
        absent = shapes.sapwood <= _NO_LAYER * shapes.thickness
        z = np.where(absent[:, None], (corner + heart) / total, z)
        lines.insert(0, _kept_inside(z, _THINNEST, lines[0] - _THINNEST))
    if corner:
        lines.insert(0, lines[0] * _corner_height(square, lines[0]))
    lines.insert(0, zero)
    groups = [n for n in counts if n]
    pieces = [lines[0][..., None]]
    for low, high, n in zip(lines, lines[1:], groups, strict=False):
        share = np.arange(1, 2 * n + 1) / (2 * n)
        pieces.append(low[..., None] + (high - low)[..., None] * share)
    return np.concatenate(pieces, axis=-1)


def _corner_height(square: _Square, above: Array) -> Array:
    """Return the row line that leaves each side where its rounded corner ends, over the next one.

    In between it may run anywhere.
    """
    ends = np.clip(square.outline.side_share / above[:, [0, -1]], 0.0, _HIGHEST_CORNER)
    across = np.linspace(0.0, 1.0, above.shape[1])
    return ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * across


def _kept_inside(line: Array, low: float, high: Array | float) -> Array:
    """Return a row line kept between two others, straight over any column where it is cut off."""
    kept = np.clip(line, low, high)
    cut = kept != line
    left, middle, right = slice(0, -1, 2), slice(1, None, 2), slice(2, None, 2)
    kinked = (cut[:, left] != cut[:, right]) | (cut[:, middle] != cut[:, right])
    straight = 0.5 * (kept[:, left] + kept[:, right])
    kept[:, middle] = np.where(kinked, straight, kept[:, middle])
    return kept


def _boundary_height(square: _Square, boundary: Callable[[Array], Array]) -> Array:
    """Return the height at which every column crosses a boundary, by bisection; 0 or 1 outside."""
    low = np.zeros(square.near_left.shape[:2])
    high = np.ones_like(low)
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        p = square.points(middle[..., None])[:, :, 0]
        below = p[..., 1] < boundary(p[..., 0])
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return 0.5 * (low + high)
