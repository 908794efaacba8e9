"""Node lattices of limb sections: columns from side to side, rows from belly to back.

A square is mapped onto the outline; then the rows slide along their columns until they lie on the
sapwood and backing boundaries.  The topology is the same for all stations whatever the layers do:
where a fit is impossible the wood is still found point by point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.section.meshing.columns import column_fractions
from limbfe.section.meshing.outline import section_outline
from limbfe.section.meshing.patch import patch_points, section_patch
from limbfe.section.meshing.rows import row_counts, row_heights
from limbfe.stave.profile import SectionShapes

_COLUMNS, _ROWS = 16, 8


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
    patch = section_patch(outline, *column_fractions(outline, columns, breaks))
    counts = row_counts(shapes, outline, max(2, round(_ROWS * fineness)))
    nodes = patch_points(patch, row_heights(shapes, patch, counts))
    return Lattice(
        columns=columns,
        rows=sum(counts),
        nodes=nodes.reshape(len(nodes), -1, 2),
        layer_of_row=np.repeat([0, 0, 1, 2], counts),
    )
