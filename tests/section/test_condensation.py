"""Condensing the middles of squares out of a system, against SciPy's dense solver."""

import numpy as np
import pytest
from scipy.linalg import solve

from limbfe.fem.banded import assemble_band, factor_band, solve_band
from limbfe.section import mapped_mesh, mesh_from_arrays
from limbfe.section.condensation import condense, condense_loads, restore_unknowns
from limbfe.section.unknowns import number_unknowns


def lattice():
    return mapped_mesh(lambda y, z: (y, z), np.linspace(0, 3, 4), np.linspace(0, 1, 3))


def element_matrices(m, size, seed=0):
    half = np.random.default_rng(seed).normal(size=(m, size, size))
    return half @ half.swapaxes(1, 2) + np.eye(size)


def test_condensed_system_gives_the_unknowns_of_the_whole_one():
    mesh = lattice()
    unknowns = number_unknowns(mesh.elements, mesh.nodes.shape[1])
    m, size = unknowns.dofs.shape
    assert (unknowns.kept, unknowns.pattern.size) == (24, unknowns.count - 3 * m)
    local, dense = element_matrices(m, size), np.zeros((unknowns.count, unknowns.count))
    for dofs, matrix in zip(unknowns.dofs, local, strict=True):
        dense[np.ix_(dofs, dofs)] += matrix
    row, column = np.tril_indices(size)
    lower = np.ascontiguousarray(local[:, row, column])
    loads = np.random.default_rng(1).normal(size=(2, unknowns.count))
    expected = solve(dense, loads.T).T

    assert all(condense(one, unknowns.kept, size) for one in lower)
    condense_loads(lower, unknowns.dofs, unknowns.kept, loads)
    pattern = unknowns.pattern
    band = assemble_band(pattern, lower[:, : len(pattern.pairs[0])])
    assert factor_band(band)
    solve_band(band, loads)
    restore_unknowns(lower, unknowns.dofs, unknowns.kept, loads)
    assert loads == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_indefinite_inside_is_told():
    matrix = element_matrices(1, 27)[0]
    matrix[25, 25] = -1.0
    assert not condense(matrix[np.tril_indices(27)], 24, 27)


def test_only_a_middle_that_no_other_element_has_is_condensed():
    """Triangles have none; here one square's corner is made another's middle."""
    mesh = lattice()
    squares = mesh.elements.copy()
    squares[0, 0] = squares[3, 8]
    assert number_unknowns(squares, mesh.nodes.shape[1]).kept == 27
    triangles = mesh.elements[:, [0, 1, 2, 4, 5, 8]]
    right = mesh_from_arrays(mesh.nodes[0], triangles)
    unknowns = number_unknowns(right.elements, right.nodes.shape[1])
    assert (unknowns.kept, unknowns.pattern.size) == (18, unknowns.count)
