"""Factors front by front against SuperLU, on the blocks of a mesh that is no square lattice."""

import numpy as np
import pytest
from scipy import sparse
from scipy.sparse.linalg import spsolve

from limbfe.defect.plate.assembly import node_blocks, node_pattern
from limbfe.errors import ConvergenceError
from limbfe.fem.fronts import factorise_fronts
from limbfe.fem.mesh import second_order
from limbfe.fem.solve import factorise, solve
from limbfe.fem.spatial import Delaunay


def mesh(points=180):
    vertices = np.random.default_rng(3).uniform(size=(points, 2)) * [3.0, 1.0]
    triangles = Delaunay(vertices).simplices
    return second_order(vertices, triangles, np.zeros(len(triangles), dtype=int))


def stiffness(made, u, seed=5):
    """Random positive element matrices of `u` unknowns a node, put together."""
    pattern = node_pattern(made, u)
    rng = np.random.default_rng(seed)
    n = u * len(made.nodes)
    dofs = (u * made.elements[:, :, None] + np.arange(u)).reshape(len(made.elements), -1)
    parts = rng.normal(size=(*dofs.shape, 4))
    matrices = parts @ parts.transpose(0, 2, 1)
    rows, columns = np.broadcast_arrays(dofs[:, :, None], dofs[:, None, :])
    given = sparse.coo_array((matrices.ravel(), (rows.ravel(), columns.ravel())), shape=(n, n))
    K = (given.tocsc() + sparse.eye_array(n)).toarray()
    full = np.zeros(len(pattern.indices))
    column = np.repeat(np.arange(n), np.diff(pattern.indptr))
    full[:] = K[pattern.indices, column]
    return pattern, sparse.csc_array((full, pattern.indices, pattern.indptr), shape=(n, n))


@pytest.mark.parametrize("u", [2, 3, 5, 9])
def test_fronts_solve_what_superlu_solves(u):
    made = mesh()
    pattern, K = stiffness(made, u)
    blocks = node_blocks(made, pattern)
    counts = np.diff(blocks.fronts.start)
    assert 1 < len(counts) < len(made.nodes), "several nodes a front, and several fronts"
    loads = np.random.default_rng(7).normal(size=(K.shape[0], 4))
    factors = factorise_fronts(blocks, K.data)
    assert factors.solve(loads) == pytest.approx(spsolve(K.tocsc(), loads), rel=1e-9, abs=1e-11)
    assert factors.solve(loads[:, 1]) == pytest.approx(factors.solve(loads)[:, 1], rel=1e-12)


def test_every_node_stands_once_in_the_order():
    made = mesh()
    fronts = node_blocks(made, node_pattern(made, 2)).fronts
    assert sorted(fronts.place) == list(range(len(made.nodes)))
    assert fronts.start[-1] == len(made.nodes)
    ends = fronts.start[1:]
    for end, rest in zip(ends, fronts.beyond, strict=True):
        assert (np.diff(rest) > 0).all()
        assert (rest >= end).all(), "what a front leaves comes later"


def test_given_displacements_and_reactions_are_those_without_blocks():
    made = mesh(60)
    pattern, K = stiffness(made, 3)
    fixed = np.array([0, 1, 2, 31, 64])
    given = np.random.default_rng(1).normal(size=(5, 2))
    load = np.random.default_rng(2).normal(size=(K.shape[0], 2))
    one = solve(factorise(K, fixed, node_blocks(made, pattern)), load, given)
    assert one[fixed] == pytest.approx(given, rel=1e-12)
    assert one == pytest.approx(solve(factorise(K, fixed), load, given), rel=1e-9, abs=1e-11)


def test_a_pivot_below_zero_is_left_to_superlu():
    made = mesh(60)
    pattern, K = stiffness(made, 2)
    blocks = node_blocks(made, pattern)
    data = K.data.copy()
    column = np.repeat(np.arange(K.shape[0]), np.diff(K.indptr))
    data[(K.indices == 40) & (column == 40)] = -1.0
    worse = sparse.csc_array((data, K.indices, K.indptr), shape=K.shape)
    assert factorise_fronts(blocks, data) is None
    load = np.ones((K.shape[0], 1))
    found = solve(factorise(worse, np.array([0]), blocks), load, np.zeros((1, 1)))
    left = worse @ found - load
    assert left[1:] == pytest.approx(0.0, abs=1e-9)


def test_a_node_without_stiffness_is_singular():
    made = mesh(60)
    pattern, K = stiffness(made, 2)
    lost = np.array([20, 21])
    column = np.repeat(np.arange(K.shape[0]), np.diff(K.indptr))
    data = np.where(np.isin(K.indices, lost) | np.isin(column, lost), 0.0, K.data)
    loose = sparse.csc_array((data, K.indices, K.indptr), shape=K.shape)
    with pytest.raises(ConvergenceError, match="singular"):
        factorise(loose, np.array([0]), node_blocks(made, pattern))
