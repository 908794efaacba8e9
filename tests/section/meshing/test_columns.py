"""Columns that follow the sides of zones: a mirrored section has the mirrored mesh (symmetry)."""

import numpy as np
import pytest

from limbfe.section.meshing.columns import _spread


@pytest.mark.parametrize("columns", [3, 4, 7, 10])
def test_lines_are_given_columns_alike_from_either_side(columns):
    """Also where both sides of a thin knot lie nearest to one column, and beside an edge."""
    rng = np.random.default_rng(columns)
    close = 0
    for _ in range(200):
        count = int(rng.integers(1, columns))
        wanted = np.sort(rng.uniform(0.0, columns, count))
        if count > 1:
            wanted[1] = wanted[0] + 0.1 * rng.random()
            wanted.sort()
        at = _spread(wanted, columns)
        assert np.all(np.diff(at) > 0)
        assert 1 <= at[0] <= at[-1] <= columns - 1
        assert np.array_equal(at, columns - _spread(columns - wanted[::-1], columns)[::-1])
        near = np.clip(np.rint(wanted), 1, columns - 1)
        close += bool(np.any(np.diff(near) == 0))
        if np.all(np.diff(near) > 0):
            assert np.array_equal(at, near)
    assert close > 20


def test_the_line_that_is_nearer_to_the_next_column_gives_way():
    assert _spread(np.array([4.9, 5.2]), 10).tolist() == [5, 6]
    assert _spread(np.array([4.8, 5.1]), 10).tolist() == [4, 5]
