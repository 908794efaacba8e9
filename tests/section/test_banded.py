"""The band solver against SciPy's dense solver, for both ways of numbering nodes."""

import numpy as np
import pytest
from scipy.linalg import solve

from limbfe.fem.banded import assemble_band, band_pattern, factor_band, solve_band
from limbfe.section import mapped_mesh


@pytest.fixture(params=["kept", "renumbered"])
def elements(request):
    """A lattice numbered along its short side, and the same with its nodes shuffled."""
    mesh = mapped_mesh(lambda y, z: (y, z), np.linspace(0, 3, 8), np.linspace(0, 1, 3))
    if request.param == "kept":
        return mesh.elements
    order = np.random.default_rng(5).permutation(mesh.nodes.shape[1])
    return order[mesh.elements]


def random_system(elements, seed=0):
    """Element matrices of positive sum, and the dense matrix they make."""
    n, k = elements.max() + 1, 2 * elements.shape[1]
    rng = np.random.default_rng(seed)
    half = rng.normal(size=(len(elements), k, k))
    local = half @ half.swapaxes(1, 2) + np.eye(k)
    pattern = band_pattern(elements, n, 2)
    dense = np.zeros((2 * n, 2 * n))
    for dofs, matrix in zip(pattern.dofs, local, strict=True):
        dense[np.ix_(dofs, dofs)] += matrix
    return pattern, local, dense


def test_band_solution_is_the_dense_one(elements):
    pattern, local, dense = random_system(elements)
    band = assemble_band(pattern, local[:, pattern.pairs[0], pattern.pairs[1]])
    for k in range(pattern.width + 1):
        assert band[: pattern.size - k, k] == pytest.approx(np.diag(dense, -k), abs=1e-12)
    right = np.random.default_rng(1).normal(size=(3, pattern.size + 2))
    found = right.copy()
    assert factor_band(band)
    solve_band(band, found)
    wanted = solve(dense, right[:, :-2].T).T
    assert found[:, :-2] == pytest.approx(wanted, rel=1e-9, abs=1e-12)
    np.testing.assert_array_equal(found[:, -2:], right[:, -2:])


def test_good_numbers_are_kept_and_shuffled_ones_replaced(elements):
    """Two rows of elements: 5 nodes a column, an element reaches two columns and two nodes on."""
    pattern = band_pattern(elements, elements.max() + 1, 2)
    given = int((elements.max(axis=1) - elements.min(axis=1)).max())
    if given == 2 * 5 + 2:
        assert pattern.width == 2 * given + 1
    else:
        assert pattern.width < 0.5 * (2 * given + 1)


def test_indefinite_matrix_has_no_factor(elements):
    pattern, local, _ = random_system(elements)
    local[3] -= 1e3 * np.eye(local.shape[1])
    assert not factor_band(assemble_band(pattern, local[:, pattern.pairs[0], pattern.pairs[1]]))
