"""Numbers of a section's unknowns, and the weak springs that hold its free motion.

Unknowns of the band come first, then those condensed out of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.fem.banded import BandPattern, band_pattern
from limbfe.frames import Array

Integers = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unknowns:
    """Warping u_x, u_y, u_z of n nodes; m elements of k nodes.

    Attributes
    ----------
    pattern : BandPattern
        Of the unknowns that stay in the system.
    count : int
        Of all unknowns.
    kept : int
        How many unknowns of an element, the first ones, stay in the system.
    of_nodes : ndarray of int, shape (n, 3)
    dofs : ndarray of int, shape (m, 3 k)
        Of every element, node by node.
    packing : ndarray of int, shape (p,)
        Where the rows of an element's lower triangle, node by node, stand in its flattened matrix
        ordered component by component, of which only blocks on and below the diagonal are filled.
    """

    pattern: BandPattern
    count: int
    kept: int
    of_nodes: Integers
    dofs: Integers
    packing: Integers


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Springs:
    """Two nodes of every section: the first is held, the second against spin about the first.

    Attributes
    ----------
    first, second : ndarray of int, shape (S, 3)
        Band rows of their unknowns.
    across : ndarray, shape (S, 2)
        Unit vector (y, z) square to the line between them.
    """

    first: Integers
    second: Integers
    across: Array


def number_unknowns(elements: Integers, n_nodes: int) -> Unknowns:
    """Return the numbers for elements of 6 or 9 nodes; middles of squares leave the system."""
    k = elements.shape[1]
    alone = k == 9 and np.bincount(elements.ravel())[elements[:, 8]].max() == 1
    kept = 8 if alone else k
    stays = np.ones(n_nodes, dtype=np.bool_)
    stays[elements[:, kept:]] = False
    short = np.cumsum(stays) - 1
    pattern = band_pattern(short[elements[:, :kept]], int(stays.sum()), 3)
    of_nodes = np.empty((n_nodes, 3), dtype=np.int64)
    of_nodes[stays] = pattern.dofs_of_nodes
    inner = elements[:, kept:].ravel()
    of_nodes[inner] = pattern.size + np.arange(3 * len(inner)).reshape(-1, 3)
    return Unknowns(
        pattern=pattern,
        count=3 * n_nodes,
        kept=3 * kept,
        of_nodes=of_nodes,
        dofs=of_nodes[elements].reshape(len(elements), -1),
        packing=_packing(k),
    )


def _packing(k: int) -> Integers:
    row, column = np.tril_indices(3 * k)
    (a, i), (b, j) = np.divmod(row, 3), np.divmod(column, 3)
    row, column = i * k + a, j * k + b
    low, high = np.where(i < j, column, row), np.where(i < j, row, column)
    return low * 3 * k + high


def weak_springs(nodes: Array, unknowns: Unknowns) -> Springs:
    """Return springs at the node furthest to -y and the one furthest from it, of (S, n, 2)."""
    staying = unknowns.of_nodes[:, 0] < unknowns.pattern.size
    rows, nodes = unknowns.of_nodes[staying], nodes[:, staying]
    stations = np.arange(len(nodes))
    first = nodes[..., 0].argmin(axis=1)
    reach = nodes - nodes[stations, first][:, None]
    second = (reach**2).sum(axis=2).argmax(axis=1)
    y, z = reach[stations, second].T
    across = np.stack([-z, y], axis=1) / np.hypot(y, z)[:, None]
    return Springs(first=rows[first], second=rows[second], across=across)


def add_springs(band: Array, springs: Springs, s: int) -> None:
    """Add section `s`'s springs to its band; a load in balance puts no force on them."""
    y, z = springs.across[s]
    _, v, w = springs.second[s]
    first = springs.first[s]
    stiff = band[first, 0].mean()
    band[first, 0] += stiff
    band[v, 0] += stiff * y**2
    band[w, 0] += stiff * z**2
    band[v, 1] += stiff * y * z
