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
_COLUMNS, _ROWS = 14, 8
_NO_LAYER = 1e-9


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


def section_lattice(shapes: SectionShapes, fineness: float) -> Lattice:
    """Return the node lattice of every station.

    Raises
    ------
    GeometryError
        Where an outline collapses.
    """
    outline = section_outline(shapes)
    columns = max(2, round(_COLUMNS * fineness))
    counts = _row_counts(shapes, max(2, round(_ROWS * fineness)))
    across = np.linspace(0.0, 1.0, 2 * columns + 1)
    heights = _row_heights(shapes, outline, across, counts)
    nodes = _map_square(outline, across[:, None], heights)
    rows = sum(counts)
    return Lattice(
        columns=columns,
        rows=rows,
        nodes=nodes.reshape(len(nodes), -1, 2),
        layer_of_row=np.repeat(np.arange(3), counts),
    )


def _row_counts(shapes: SectionShapes, rows: int) -> tuple[int, int, int]:
    """Return rows in heartwood, sapwood and backing, common to all stations."""
    thickness = np.asarray(shapes.thickness)
    counts = []
    for layer in (shapes.sapwood, shapes.backing):
        share = np.asarray(layer) / thickness
        present = share > _NO_LAYER
        mean = float(share[present].mean()) if present.any() else 0.0
        counts.append(int(np.clip(round(rows * mean), 1, rows)) if present.any() else 0)
    sapwood, backing = counts
    return max(1, rows - sapwood - backing), sapwood, backing


def _row_heights(
    shapes: SectionShapes, outline: Outline, across: Array, counts: tuple[int, int, int]
) -> Array:
    """Return the square's height coordinate of every node, shape (S, columns, rows)."""
    heart, sap, back = counts
    stations = len(shapes.x)
    zero, total = np.zeros((stations, len(across))), sum(counts)
    lines = [zero]
    if sap:
        z = _boundary_height(outline, across, lambda y: sapwood_z(shapes, y))
        absent = shapes.sapwood <= _NO_LAYER * shapes.thickness
        lines.append(np.where(absent[:, None], heart / total, z))
    if back:
        z = _boundary_height(outline, across, lambda y: backing_z(shapes, y))
        absent = shapes.backing <= _NO_LAYER * shapes.thickness
        lines.append(np.where(absent[:, None], (heart + sap) / total, z))
    lines.append(zero + 1.0)
    for i in range(1, len(lines) - 1):
        above = (len(lines) - 1 - i) * _THINNEST
        lines[i] = _kept_inside(lines[i], lines[i - 1] + _THINNEST, 1.0 - above)
    groups = [n for n in counts if n]
    pieces = [lines[0][..., None]]
    for low, high, n in zip(lines, lines[1:], groups, strict=False):
        share = np.arange(1, 2 * n + 1) / (2 * n)
        pieces.append(low[..., None] + (high - low)[..., None] * share)
    return np.concatenate(pieces, axis=-1)


def _kept_inside(line: Array, low: Array, high: float) -> Array:
    """Return a row line kept between two others, straight over any column where it is cut off."""
    kept = np.clip(line, low, high)
    cut = kept != line
    left, middle, right = slice(0, -1, 2), slice(1, None, 2), slice(2, None, 2)
    kinked = (cut[:, left] != cut[:, right]) | (cut[:, middle] != cut[:, right])
    straight = 0.5 * (kept[:, left] + kept[:, right])
    kept[:, middle] = np.where(kinked, straight, kept[:, middle])
    return kept


def _boundary_height(outline: Outline, across: Array, boundary: Callable[[Array], Array]) -> Array:
    """Return the height at which every column crosses a boundary, by bisection; 0 or 1 outside."""
    low = np.zeros((len(outline.half), len(across)))
    high = np.ones_like(low)
    for _ in range(40):
        middle = 0.5 * (low + high)
        p = _map_square(outline, across[:, None], middle[..., None])[:, :, 0]
        below = p[..., 1] < boundary(p[..., 0])
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return 0.5 * (low + high)


def _map_square(outline: Outline, across: Array, height: Array) -> Array:
    """Map (across, height) in the unit square onto the section.

    Parameters
    ----------
    across : ndarray, shape (c, 1)
    height : ndarray, shape (S, c, r)

    Returns
    -------
    ndarray, shape (S, c, r, 2)

    Notes
    -----
    A Coons patch (S. A. Coons, Surfaces for computer-aided design of space forms, MIT MAC-TR-41,
    1967; from memory) whose side terms fade with the cube of the distance from the side, which
    leaves the columns in the middle straight.
    """
    fraction = across[:, 0]
    back = back_curve(outline, fraction)[:, :, None]
    belly = belly_curve(outline, fraction)[:, :, None]
    h = height[..., None]
    points = belly + h * (back - belly)
    shape = height.shape
    side = side_curve(outline, height.reshape(shape[0], -1)).reshape(*shape, 2)
    start = belly[:, :1]
    chord = start + h * (back[:, :1] - start)
    bulge = side - chord
    points = points + ((1.0 - across) ** 3)[..., None] * bulge
    points = points + (across**3)[..., None] * bulge * np.array([-1.0, 1.0])
    return np.asarray(points)
