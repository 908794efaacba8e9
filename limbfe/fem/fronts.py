"""Cholesky factors of a matrix of node blocks, front by front.

A front is a dense matrix of a few nodes that are eliminated together and of those they leave
coupled: all arithmetic is that of dense blocks, which a BLAS does several times faster than SuperLU
its columns.  Order and fronts are found once a mesh, node by node, whatever the unknowns of a node.

References
----------
I. S. Duff and J. K. Reid, The multifrontal solution of indefinite sparse symmetric linear
equations, ACM Trans. Math. Software 9 (1983), 302-325; J. W. H. Liu, The multifrontal method for
sparse matrix solution: theory and practice, SIAM Review 34 (1992), 82-109 (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.linalg.blas import dsyrk, dtrsm
from scipy.linalg.lapack import dpotrf
from scipy.sparse.linalg import splu

from limbfe.compiled import compiled
from limbfe.fem.mesh import Index
from limbfe.frames import Array

MERGED = ((2, 0.8), (4, 0.3), (10, 0.12), (np.inf, 0.05))
"""Up to how many nodes of its own a front may hold which share of zeros: few large fronts are
faster than many small ones.  From two to fifty per cent more of them changed little."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fronts:
    """Which nodes are eliminated together, and what is left to do after them.

    Attributes
    ----------
    place : ndarray of int, shape (n,)
        Of every node in the order of elimination.
    start : ndarray of int, shape (f + 1,)
        First place of every front's own nodes.
    beyond : tuple of ndarray of int
        Places of the nodes that a front leaves coupled, rising.
    before : tuple of tuple of int
        Fronts whose rest goes into a front.
    within : tuple of ndarray of int
        Where in the front after it a front's rest lies, own nodes first.
    lower : ndarray of int, shape (p,)
        Pairs of nodes, of all those given, on and below the diagonal in that order.
    front, column, row : ndarray of int, shape (p,)
        Of every such pair, the last as `within`.
    """

    place: Index
    start: Index
    beyond: tuple[Index, ...]
    before: tuple[tuple[int, ...], ...]
    within: tuple[Index, ...]
    lower: Index
    front: Index
    column: Index
    row: Index


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blocks:
    """Where the blocks of node pairs lie in a matrix's data.

    Attributes
    ----------
    fronts : Fronts
        Laid for the same pairs.
    unknowns : int
        Of a node.
    first, stride : ndarray of int, shape (pairs,)
        Entry (a, b) of a pair's block lies at ``first + b stride + a``.
    """

    fronts: Fronts
    unknowns: int
    first: Index
    stride: Index


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrontFactors:
    """Lower triangles of all fronts.

    Attributes
    ----------
    place : ndarray of int, shape (n,)
        Of every unknown in the order of elimination.
    parts : tuple of (int, ndarray, ndarray, ndarray)
        Of every front the first place, the factor of its own unknowns, shape (k, k), the rows
        beyond them, shape (m, k), and these rows' places.
    """

    place: Index
    parts: tuple[tuple[int, Array, Array, Index], ...]

    def solve(self, right: Array) -> Array:
        """Return the unknowns under loads, both of shape (n,) or (n, r)."""
        y = np.empty((len(right), right.size // len(right)))
        y[self.place] = right.reshape(y.shape)
        for start, own, beyond, rows in self.parts:
            some = slice(start, start + len(own))
            y[some] = dtrsm(1.0, own, y[some].T, side=1, lower=1, trans_a=1, overwrite_b=1).T
            if len(rows):
                y[rows] -= beyond @ y[some]
        for start, own, beyond, rows in reversed(self.parts):
            some = slice(start, start + len(own))
            if len(rows):
                y[some] -= beyond.T @ y[rows]
            y[some] = dtrsm(1.0, own, y[some].T, side=1, lower=1, overwrite_b=1).T
        found: Array = y[self.place].reshape(right.shape)
        return found


def lay_fronts(columns: Index, rows: Index, n: int) -> Fronts:
    """Return the order in which the nodes of a mesh are eliminated.

    Parameters
    ----------
    columns, rows : ndarray of int, shape (pairs,)
        Nodes that share an element, both ways round and each with itself, column by column.
    n : int
        Number of nodes.
    """
    tried = _least_degree(columns, rows, n)
    reach = _reached(tried[columns], tried[rows], n)
    heads, own = _merged(reach)
    size = np.array([len(nodes) for nodes in own])
    start = np.concatenate([[0], np.cumsum(size)])
    again = np.empty(n, dtype=np.int64)
    again[np.concatenate(own)] = np.arange(n)
    place = again[tried]
    beyond = tuple(np.sort(again[list(reach[head])]) for head in heads)
    front_at = np.repeat(np.arange(len(size)), size)
    before: list[list[int]] = [[] for _ in beyond]
    within = []
    for k, rest in enumerate(beyond):
        if len(rest):
            after = front_at[rest[0]]
            before[after].append(k)
            within.append(_within(rest, after, start, beyond[after]))
        else:
            within.append(rest)
    lower = np.flatnonzero(place[rows] >= place[columns])
    column, row = place[columns[lower]], place[rows[lower]]
    front = front_at[column]
    return Fronts(
        place=place,
        start=start,
        beyond=beyond,
        before=tuple(tuple(one) for one in before),
        within=tuple(within),
        lower=lower,
        front=front,
        column=column - start[front],
        row=_all_within(row, front, start, beyond),
    )


def _least_degree(columns: Index, rows: Index, n: int) -> Index:
    """Return the place of every node: SuperLU's minimum degree, of the nodes alone."""
    degree = np.bincount(columns, minlength=n)
    data = np.where(columns == rows, degree[columns] + 1.0, -1.0)
    matrix = sparse.csc_array((data, (rows, columns)), shape=(n, n))
    found = splu(
        matrix,
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        relax=1,
        options={"SymmetricMode": True, "Equil": False},
    )
    return np.asarray(found.perm_c, dtype=np.int64)


def _reached(columns: Index, rows: Index, n: int) -> list[set[int]]:
    """Return which later nodes every node is coupled with when its turn comes."""
    reach: list[set[int]] = [set() for _ in range(n)]
    later = rows > columns
    for column, row in zip(columns[later].tolist(), rows[later].tolist(), strict=True):
        reach[column].add(row)
    for one in reach:
        if one:
            after = min(one)
            reach[after] |= one
            reach[after].discard(after)
    return reach


def _merged(reach: list[set[int]]) -> tuple[list[int], list[list[int]]]:
    """Return the last node of every front and all of its own, fronts in their order."""
    own = [[k] for k in range(len(reach))]
    zeros, taken = [0] * len(reach), [False] * len(reach)
    before: list[list[int]] = [[] for _ in reach]
    for k, one in enumerate(reach):
        for other in sorted(before[k], key=lambda j: -len(reach[j])):
            more, count = len(own[other]), len(own[k])
            width, rest = more + count, len(one)
            empty = zeros[other] + zeros[k] + more * (count + rest - len(reach[other]))
            most = next(share for nodes, share in MERGED if width <= nodes)
            if empty <= most * (width * (width + 1) // 2 + width * rest):
                own[k], zeros[k], taken[other] = own[other] + own[k], empty, True
        if one:
            before[min(one)].append(k)
    heads = [k for k, gone in enumerate(taken) if not gone]
    return heads, [own[k] for k in heads]


def _within(places: Index, front: int, start: Index, beyond: Index) -> Index:
    """Return where in a front places lie, its own nodes first."""
    first, end = start[front], start[front + 1]
    found: Index = np.where(
        places < end, places - first, end - first + np.searchsorted(beyond, places)
    )
    return found


def _all_within(places: Index, front: Index, start: Index, beyond: tuple[Index, ...]) -> Index:
    """Return the same of many places, each with its own front."""
    n = int(start[-1])
    count = np.array([len(rest) for rest in beyond])
    begin = np.concatenate([[0], np.cumsum(count)[:-1]])
    keys = np.repeat(np.arange(len(beyond)), count) * n + np.concatenate(beyond)
    first, end = start[front], start[front + 1]
    far = np.searchsorted(keys, front * n + places) - begin[front]
    found: Index = np.where(places < end, places - first, end - first + far)
    return found


def factorise_fronts(blocks: Blocks, data: Array) -> FrontFactors | None:
    """Return the factors of a symmetric matrix; None if it is not positive definite.

    Parameters
    ----------
    data : ndarray
        Of the matrix, by compressed columns.
    """
    fronts, u = blocks.fronts, blocks.unknowns
    own, beyond = _laid_out(blocks, data)
    rests: dict[int, Array] = {}
    parts = []
    for k, (square, below) in enumerate(zip(own, beyond, strict=True)):
        # Seen by rows, all of them lie in one piece, and the compiled pass is of one kind.
        rest = np.zeros((len(below), len(below)), order="F")
        for other in fronts.before[k]:
            _add_rest(rests.pop(other), u * fronts.within[other], square.T, below.T, rest.T, u)
        square, failed = dpotrf(square, lower=1, clean=0, overwrite_a=1)
        if failed:
            return None
        if len(below):
            below = dtrsm(1.0, square, below, side=1, lower=1, trans_a=1, overwrite_b=1)
            rests[k] = dsyrk(-1.0, below, beta=1.0, c=rest, lower=1, overwrite_c=1).T
        rows = _unknowns(fronts.beyond[k], u)
        parts.append((int(u * fronts.start[k]), square, below, rows))
    return FrontFactors(place=_unknowns(fronts.place, u), parts=tuple(parts))


def _unknowns(places: Index, u: int) -> Index:
    found: Index = (u * places[:, None] + np.arange(u)).ravel()
    return found


def _laid_out(blocks: Blocks, data: Array) -> tuple[list[Array], list[Array]]:
    """Return the matrix's own entries of every front: shape (k, k) and (m, k), column by column."""
    fronts, u = blocks.fronts, blocks.unknowns
    k = u * np.diff(fronts.start)
    m = u * np.array([len(rest) for rest in fronts.beyond])
    begin = np.concatenate([[0], np.cumsum(k * (k + m))])
    into = np.zeros(begin[-1])
    of, lower = fronts.front, fronts.lower
    column, row = u * fronts.column, u * fronts.row
    inside = row < k[of]
    height = np.where(inside, k[of], m[of])
    skipped = np.where(inside, 0, (k[of] - 1) * k[of])
    _add_blocks(
        into,
        data,
        blocks.first[lower].astype(np.int64),
        blocks.stride[lower].astype(np.int64),
        begin[of] + skipped + column * height + row,
        height,
        u,
    )
    own, beyond = [], []
    for at, wide, high in zip(begin.tolist(), k.tolist(), m.tolist(), strict=False):
        middle, end = at + wide * wide, at + wide * (wide + high)
        own.append(into[at:middle].reshape(wide, wide).T)
        beyond.append(into[middle:end].reshape(wide, high).T)
    return own, beyond


@compiled
def _add_blocks(
    into: Array, data: Array, first: Index, stride: Index, place: Index, height: Index, u: int
) -> None:
    for p in range(len(first)):
        for b in range(u):
            for a in range(u):
                into[place[p] + b * height[p] + a] += data[first[p] + b * stride[p] + a]


@compiled
def _add_rest(rest: Array, within: Index, own: Array, below: Array, after: Array, u: int) -> None:
    """Add what a front leaves to the one after it; all transposed, upper triangles alone."""
    k = len(own)
    for j in range(len(within)):
        for b in range(u):
            column = within[j] + b
            for i in range(j, len(within)):
                row = within[i]
                for a in range(u):
                    value = rest[j * u + b, i * u + a]
                    if row < k:
                        own[column, row + a] += value
                    elif column < k:
                        below[column, row - k + a] += value
                    else:
                        after[column - k, row - k + a] += value
