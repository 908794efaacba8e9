"""A slit in a mesh: nodes doubled along a line of element sides."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from limbfe.fem.mesh import SIDES, Index, PlaneMesh, middle_nodes
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slit:
    """Node pairs along a line of element sides.

    Attributes
    ----------
    right, left : ndarray of int, shape (c,)
        Coinciding nodes on the right and on the left bank, seen along the line.
    along : ndarray, shape (c,), m
        Length of the line up to each pair.
    tangent : ndarray, shape (c, 2)
        Unit vector along the line; the normal, from the right bank to the left, is a quarter turn
        anticlockwise from it.
    """

    right: Index
    left: Index
    along: Array
    tangent: Array


def cut_slit(mesh: PlaneMesh, line: Index, *, open_start: bool) -> tuple[PlaneMesh, Slit]:
    """Give both banks of a line of element sides nodes of their own.

    Parameters
    ----------
    mesh : PlaneMesh
    line : ndarray of int, shape (2 s + 1,)
        Nodes along the line, corners and middles in turn.  The last stays single.
    open_start : bool
        Whether the line starts at a free boundary.  Its first node is then doubled too; otherwise
        the line starts inside the body and that node stays single.

    Returns
    -------
    PlaneMesh
        The left bank's new nodes appended.
    Slit

    Notes
    -----
    Where a line meets a boundary it touches, as the tangent of a hole, the elements round one node
    fall into more than two parts: every part gets a node.  A part left hanging on a node of another
    would carry load that the free bank does not.
    """
    chain = line[0 if open_start else 1 : -1]
    on_chain = np.full(len(mesh.nodes), -1, dtype=np.intp)
    on_chain[chain] = np.arange(len(chain))
    element, corner = np.nonzero(on_chain[mesh.elements] >= 0)
    node = mesh.elements[element, corner]
    part = _parts_round_nodes(mesh, element, node, line)
    is_left = _touches_left(mesh, element, node, part, line)
    elements, nodes = mesh.elements.copy(), mesh.nodes
    right, left, pair = [], [], []
    total = len(nodes)
    fresh: list[int] = []
    # Parts on the left get a twin; of several on the right all but the first get one too.
    for k, one in enumerate(chain):
        here = node == one
        others = np.unique(part[here & ~is_left])
        keep = others[0]
        twins = {}
        for number in np.unique(part[here]):
            if number == keep:
                twins[number] = one
                continue
            twins[number] = total
            rows = here & (part == number)
            elements[element[rows], corner[rows]] = total
            fresh.append(int(one))
            total += 1
        mine = np.unique(part[here & is_left])
        for number in others:
            right.append(twins[number])
            left.append(twins[mine[0]])
            pair.append(k)
    place = np.array(pair)
    length, tangent = _course(nodes, line)
    first = 0 if open_start else 1
    doubled = replace(mesh, nodes=np.vstack([nodes, nodes[fresh]]), elements=elements)
    return doubled, Slit(
        right=np.array(right, dtype=np.intp),
        left=np.array(left, dtype=np.intp),
        along=length[first:-1][place],
        tangent=tangent[first:-1][place],
    )


def line_nodes(mesh: PlaneMesh, corners: Index) -> Index:
    """Return corners and middles in turn along a line given by its corner nodes.

    Raises
    ------
    ValueError
        If two corners that follow each other are not joined by an element's side.
    """
    middles = middle_nodes(mesh, np.stack([corners[:-1], corners[1:]], axis=1))
    if (middles < 0).any():
        raise ValueError("the line does not follow the sides of the elements")
    out = np.empty(2 * len(corners) - 1, dtype=np.intp)
    out[0::2], out[1::2] = corners, middles
    return out


def _course(nodes: Array, line: Index) -> tuple[Array, Array]:
    """Length of the line up to every node, and its direction there."""
    step = np.diff(nodes[line], axis=0)
    size = np.linalg.norm(step, axis=1)
    length = np.concatenate([[0.0], np.cumsum(size)])
    slope = np.gradient(nodes[line], length, axis=0)
    return length, slope / np.linalg.norm(slope, axis=1, keepdims=True)


def _directed_sides(mesh: PlaneMesh) -> tuple[Index, Index]:
    """Start and end corner of the three sides of every element, shape (m, 3) each."""
    corners = mesh.elements[:, SIDES]
    return corners[..., 0], corners[..., 1]


def _parts_round_nodes(mesh: PlaneMesh, element: Index, node: Index, line: Index) -> Index:
    """Number the parts into which a line cuts the elements round each of its nodes.

    Two elements are of one part at a node if they share a side that holds it and is not the line's.
    """
    count = len(mesh.nodes)
    key = element * count + node
    order = np.argsort(key)
    start, end = _directed_sides(mesh)
    low, high = np.minimum(start, end).ravel(), np.maximum(start, end).ravel()
    side = low * count + high
    middle = mesh.elements[:, 3:].ravel()
    owner = np.repeat(np.arange(len(mesh.elements)), 3)
    rank = np.argsort(side, kind="stable")
    shared = np.flatnonzero(side[rank][1:] == side[rank][:-1])
    one, two = rank[shared], rank[shared + 1]
    wall = np.sort(np.stack([line[:-1:2], line[2::2]], axis=1), axis=1)
    is_open = ~np.isin(side[one], wall[:, 0] * count + wall[:, 1])
    one, two = one[is_open], two[is_open]
    rows, columns = [], []
    for at in (low, high, middle):
        first, second = owner[one] * count + at[one], owner[two] * count + at[one]
        place = np.minimum(np.searchsorted(key, first, sorter=order), len(key) - 1)
        found = order[place]
        hit = key[found] == first
        other = order[np.minimum(np.searchsorted(key, second, sorter=order), len(key) - 1)]
        rows.append(found[hit])
        columns.append(other[hit])
    i, j = np.concatenate(rows), np.concatenate(columns)
    graph = sparse.coo_array((np.ones(len(i)), (i, j)), shape=(len(key), len(key)))
    part: Index = connected_components(graph, directed=False)[1]
    return part


def _touches_left(
    mesh: PlaneMesh, element: Index, node: Index, part: Index, line: Index
) -> np.ndarray:
    """Whether the part of each (element, node) holds an element with a side of the line, run
    through in the line's own direction: anticlockwise elements there lie to its left."""
    count = len(mesh.nodes)
    start, end = _directed_sides(mesh)
    forward = line[:-1:2] * count + line[2::2]
    left_side = np.isin(start * count + end, forward)
    nodes_of_sides = np.concatenate(
        [start[..., None], end[..., None], mesh.elements[:, 3:, None]], 2
    )
    which, side = np.nonzero(left_side)
    keys = (which[:, None] * count + nodes_of_sides[which, side]).ravel()
    direct = np.isin(element * count + node, keys)
    return np.isin(part, np.unique(part[direct]))


def jump_operator(slit: Slit, size: int, per_node: int = 2) -> sparse.csr_array:
    """Return J, shape (2 c, size): opening of all pairs, then sliding, of displacements u.

    Unknowns are interleaved, x and y first at every node.  The left bank less the right one;
    opening is positive, sliding along the line's direction.
    """
    c = len(slit.right)
    tx, ty = slit.tangent[:, 0], slit.tangent[:, 1]
    value = np.concatenate([np.stack([-ty, tx], 1), np.stack([tx, ty], 1)])
    left = per_node * np.tile(slit.left, 2)[:, None] + np.arange(2)
    right = per_node * np.tile(slit.right, 2)[:, None] + np.arange(2)
    columns = np.hstack([left, right]).ravel()
    rows = np.repeat(np.arange(2 * c), 4)
    values = np.hstack([value, -value]).ravel()
    return sparse.csr_array((values, (rows, columns)), shape=(2 * c, size))


def release_steps(slit: Slit, tips: Array) -> Index:
    """Return the step in which each pair is freed, for a crack that grows from tip to tip.

    Parameters
    ----------
    slit : Slit
    tips : ndarray, shape (k + 1,), m
        Places of the tip along the line, from no crack on.

    Returns
    -------
    ndarray of int, shape (c,)
        j for pairs from ``tips[j - 1]`` on and before ``tips[j]``; k + 1 from the last on.
    """
    out: Index = np.searchsorted(tips - 1e-9 * tips[-1], slit.along, side="right")
    return out
