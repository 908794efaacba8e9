from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from limbfe.view import labels


@given(
    st.lists(st.floats(-5, 5), min_size=1, max_size=12),
    st.floats(0.01, 0.8),
)
def test_labels_keep_their_distance_and_their_order(wanted, gap):
    wanted = np.array(wanted)
    placed = labels.spread_labels(wanted, gap, -6.0, 6.0)
    order = np.argsort(wanted, kind="stable")
    room = min(gap, 12.0 / max(len(wanted) - 1, 1))
    assert np.all(np.diff(placed[order]) >= room - 1e-9)
    assert placed.min() >= -6.0 - 1e-9
    assert placed.max() <= 6.0 + 1e-9


def test_labels_move_no_more_than_needed():
    far = np.array([3.0, 1.0, 2.0])
    np.testing.assert_array_equal(labels.spread_labels(far, 0.5, 0, 4), far)
    np.testing.assert_allclose(labels.spread_labels(np.array([1.0, 1.0]), 0.5, 0, 4), [0.75, 1.25])
    assert labels.spread_labels(np.array([]), 1.0, 0.0, 1.0).shape == (0,)


@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(0.1, 3)), max_size=12))
def test_stacked_labels_do_not_overlap(given_labels):
    start, width = np.array(given_labels).reshape(-1, 2).T
    rows = labels.stack_labels(start, width)
    for row in set(rows):
        here = [k for k in range(len(rows)) if rows[k] == row]
        here.sort(key=lambda k: start[k])
        assert all(start[a] + width[a] <= start[b] for a, b in pairwise(here))
    # As many rows as labels lie over the busiest place, no more.
    deepest = max((np.sum((start <= at) & (at < start + width)) for at in start), default=0)
    assert len(set(rows)) == deepest


def test_labels_that_touch_are_found_in_a_chain():
    start, width = np.array([4.0, 0.0, 1.5, 2.0, 9.0]), np.array([1.0, 2.0, 3.0, 0.1, 1.0])
    assert labels.touching(start, width) == [[1, 2, 3, 0], [4]]
    assert labels.touching(np.array([]), np.array([])) == []


def test_units_of_a_label():
    # 28 in is 0.7112 m and 1 lbf is 4.448 N (exact definitions of inch and pound-force).
    assert labels.length_text(0.7112, "imperial") == "28 in"
    assert labels.length_text(0.7112, "metric") == "711 mm"
    assert labels.force_text(200.17, "imperial") == "45.0 lbf"
    assert labels.energy_text(1.3558179, "imperial") == "1.0 ft lbf"


def test_worst_hot_spots_come_first(assessment):
    chosen = labels.chief_hot_spots(assessment, 2)
    assert [spot.strength_used for spot in chosen] == [0.97, 0.94]
