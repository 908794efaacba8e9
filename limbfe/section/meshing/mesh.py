"""Meshes of limb sections: one topology for all stations, rows fitted to sapwood and backing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import GeometryError
from limbfe.frames import Array, read_only
from limbfe.section.kinematics import reference_rule
from limbfe.section.meshing.lattice import Lattice, section_lattice
from limbfe.stave.profile import SectionShapes
from limbfe.units import both_lengths

Integers = NDArray[np.int64]

HEARTWOOD, SAPWOOD, BACKING = 0, 1, 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionMesh:
    """Second-order elements of S sections that share one topology.

    Attributes
    ----------
    x : ndarray, shape (S,), m
        Stations, to name them in messages.
    nodes : ndarray, shape (S, n, 2), m
        Section coordinates (y, z).
    elements : ndarray of int, shape (m, k)
        Nodes of each element, k = 9 (``quad9``) or 6 (``triangle6``) in VTK's order.
    layer : ndarray of int, shape (m,)
        0 heartwood, 1 sapwood, 2 backing: what the element's row stands for.  Where a layer is
        absent or runs out, the wood at the integration points decides, not this.
    outline : ndarray of int, shape (b,)
        Boundary nodes, anticlockwise seen from +x (y right, z up).
    order : int
        Integration points per side of a square, or degree of the triangle's rule.
    """

    x: Array
    nodes: Array
    elements: Integers
    layer: Integers
    outline: Integers
    order: int

    def where(self, s: int) -> str:
        """Return the words that name station `s` in a message."""
        return f"section at x = {both_lengths(self.x[s])}"


def section_mesh(
    shapes: SectionShapes,
    *,
    fineness: float = 1.0,
    order: int = 3,
    y_breaks: Array | None = None,
) -> SectionMesh:
    """Return quadratic meshes of the sections `shapes`, rows along the layer boundaries.

    Parameters
    ----------
    shapes : SectionShapes
        S stations.
    fineness : float
        Multiplies the number of elements in each direction.
    order : int
        Integration points per element side, 3 or more; more of them resolve a knot or a decayed
        patch whose edge crosses elements.
    y_breaks : ndarray, shape (S, n, 2), m, optional
        Lines from belly to back that a column of elements shall follow, such as the sides of a
        knot: their y on the belly and on the back, nan where a station has none.  A line that
        meets the outline beside the belly, crosses another or almost touches it is left out.

    Raises
    ------
    GeometryError
        Naming the station whose outline collapses or cannot be meshed.
    """
    lattice = section_lattice(shapes, fineness, y_breaks)
    elements = _lattice_elements(lattice.columns, lattice.rows)
    layer = np.tile(lattice.layer_of_row, lattice.columns)
    return _checked(
        SectionMesh(
            x=read_only(shapes.x),
            nodes=read_only(lattice.nodes),
            elements=_frozen(elements),
            layer=_frozen(layer),
            outline=_frozen(_lattice_outline(lattice)),
            order=order,
        )
    )


def mesh_from_arrays(
    nodes: Array,
    elements: Integers,
    *,
    x: Array | None = None,
    layer: Integers | None = None,
    order: int | None = None,
) -> SectionMesh:
    """Return a mesh of any outline from its nodes and second-order elements.

    Parameters
    ----------
    nodes : ndarray, shape (n, 2) or (S, n, 2), m
        Section coordinates (y, z).
    elements : ndarray of int, shape (m, 6) or (m, 9)
        Triangles or squares in VTK's node order, turning from y to z.
    x : ndarray, shape (S,), m, optional
        Stations, for messages; zero when left out.
    layer : ndarray of int, shape (m,), optional
    order : int, optional
        As in `SectionMesh`; 3 points a side, or degree 6, when left out.

    Raises
    ------
    GeometryError
        If an element is inside out or has no area, or the arrays do not fit together.
    """
    nodes = np.atleast_3d(np.asarray(nodes, dtype=np.float64).T).T
    elements = np.asarray(elements, dtype=np.int64)
    if elements.ndim != 2 or elements.shape[1] not in (6, 9):
        raise GeometryError(
            f"elements of shape {elements.shape}: give (m, 6) triangles or (m, 9) squares"
        )
    if elements.min() < 0 or elements.max() >= nodes.shape[1]:
        raise GeometryError(
            f"elements name nodes {elements.min()} to {elements.max()}, but there are "
            f"{nodes.shape[1]} nodes"
        )
    if order is None:
        order = 3 if elements.shape[1] == 9 else 6
    stations = np.zeros(len(nodes)) if x is None else x
    layer = np.zeros(len(elements), dtype=np.int64) if layer is None else layer
    return _checked(
        SectionMesh(
            x=read_only(stations, (len(nodes),)),
            nodes=read_only(nodes),
            elements=_frozen(elements.copy()),
            layer=_frozen(np.array(layer, dtype=np.int64)),
            outline=_frozen(boundary_loop(elements)),
            order=order,
        )
    )


def mapped_mesh(
    mapping: Callable[[Array, Array], tuple[Array, Array]],
    across: Array,
    up: Array,
    *,
    closed: bool = False,
    order: int = 3,
) -> SectionMesh:
    """Return the mesh of one section that is the image of a rectangle.

    Parameters
    ----------
    mapping : callable
        Takes two coordinate arrays, returns y and z (m); must not turn the rectangle over.
    across, up : ndarray, shape (c + 1,) and (r + 1,)
        Increasing coordinates of the element boundaries.
    closed : bool
        Whether the last value of `across` is the first one again, as round a tube.
    order : int
        Integration points per element side.

    Raises
    ------
    GeometryError
        If the image folds over itself.
    """
    columns, rows = len(across) - 1, len(up) - 1
    u, v = np.meshgrid(_with_middles(across), _with_middles(up), indexing="ij")
    nodes = np.stack(np.broadcast_arrays(*mapping(u, v)), axis=-1).reshape(-1, 2)
    elements = _lattice_elements(columns, rows)
    if closed:
        kept = 2 * columns * (2 * rows + 1)
        nodes, elements = nodes[:kept], elements % kept
    return mesh_from_arrays(nodes, elements, order=order)


def _with_middles(breaks: Array) -> Array:
    full = np.empty(2 * len(breaks) - 1)
    full[::2], full[1::2] = breaks, 0.5 * (breaks[1:] + breaks[:-1])
    return full


def integration_points(mesh: SectionMesh) -> tuple[Array, Array]:
    """Return the integration points of every element of every station.

    Returns
    -------
    points : ndarray, shape (S, m, q, 2), m
        Section coordinates (y, z).
    weights : ndarray, shape (S, m, q), m2
        Areas; they sum to the section's area.
    """
    rule_weights, values, gradients = reference_rule(mesh.elements.shape[1], mesh.order)
    q = len(values)
    positions = mesh.nodes.transpose(0, 2, 1)[:, :, mesh.elements.T]
    mapped = np.concatenate([values, gradients[:, 0], gradients[:, 1]]) @ positions
    y, z = mapped[:, 0], mapped[:, 1]
    r, s = slice(q, 2 * q), slice(2 * q, 3 * q)
    areas = (y[:, r] * z[:, s] - z[:, r] * y[:, s]).swapaxes(1, 2)
    return np.ascontiguousarray(mapped[:, :, :q].transpose(0, 3, 2, 1)), rule_weights * areas


def boundary_loop(elements: Integers) -> Integers:
    """Return the nodes of the longest boundary loop, middles of edges included."""
    corners = 3 if elements.shape[1] == 6 else 4
    edges = {}
    for i in range(corners):
        j = (i + 1) % corners
        for a, b, middle in elements[:, [i, j, corners + i]].tolist():
            edges[a, b] = middle
    following = {a: (b, mid) for (a, b), mid in edges.items() if (b, a) not in edges}
    loops: list[list[int]] = []
    while following:
        loop: list[int] = []
        node = next(iter(following))
        while node in following:
            after, middle = following.pop(node)
            loop += [node, middle]
            node = after
        loops.append(loop)
    return np.array(max(loops, key=len), dtype=np.int64)


def _checked(mesh: SectionMesh) -> SectionMesh:
    if not np.isfinite(mesh.nodes).all():
        s = int((~np.isfinite(mesh.nodes)).any(axis=(1, 2)).argmax())
        raise GeometryError(f"{mesh.where(s)}: the outline is not finite; check its sizes")
    _, weights = integration_points(mesh)
    bad = (weights <= 0.0).any(axis=(1, 2))
    if bad.any():
        raise GeometryError(
            f"{mesh.where(int(bad.argmax()))}: the outline folds over itself or has no area "
            "somewhere; check width, thickness, crown and belly there"
        )
    return mesh


def _frozen(array: Integers) -> Integers:
    array.setflags(write=False)
    return array


def _lattice_elements(columns: int, rows: int) -> Integers:
    """Return quad9 elements of a node lattice numbered up the rows first."""
    stride = 2 * rows + 1
    i, j = np.meshgrid(2 * np.arange(columns), 2 * np.arange(rows), indexing="ij")
    first = (i * stride + j).reshape(-1, 1)
    di = np.array([0, 2, 2, 0, 1, 2, 1, 0, 1])
    dj = np.array([0, 0, 2, 2, 0, 1, 2, 1, 1])
    return np.asarray(first + di * stride + dj, dtype=np.int64)


def _lattice_outline(lattice: Lattice) -> Integers:
    stride = 2 * lattice.rows + 1
    number = np.arange((2 * lattice.columns + 1) * stride).reshape(-1, stride)
    sides = [number[:-1, 0], number[-1, :-1], number[:0:-1, -1], number[0, :0:-1]]
    return np.concatenate(sides).astype(np.int64)
