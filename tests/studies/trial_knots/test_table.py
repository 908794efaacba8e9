"""The table of trial knots: between its nodes, past the edge, and where it comes from."""

import numpy as np
import pytest

from limbfe.log.layout.strength import SWIRL, StateTable, ZoneStrength, width_table
from limbfe.studies.trial_knots.table import Trial, _batches, columns, rising

SIZES = (0.15, 0.4)


def table(state="dead"):
    every = np.array([0.0, *SIZES])
    places = np.array([[*columns(size), 1.0 + SWIRL * max(size, 1e-6)] for size in every])
    breaking = np.array([[50.0] * 6, [60, 70, 120, 100, 70, 50], [90, 110, 220, 180, 90, 50.0]])
    return StateTable(
        sizes=every,
        places=places,
        breaking=breaking,
        unsound=1.5 * breaking,
        crushing=0.5 * breaking,
    )


def strength():
    return ZoneStrength(
        s=np.array([-0.8, 0.0, 0.8]),
        back=np.array([0.002, 0.008, 0.002]),
        belly=np.array([0.003, 0.010, 0.003]),
        tables={"dead": table()},
        tabulated=True,
    )


def test_the_table_is_met_at_its_nodes_and_lies_between_them():
    one, known = strength(), table()
    for i, size in enumerate(SIZES, start=1):
        found = one.share("breaking", "dead", 0.0, size, known.places[i])
        assert np.allclose(found, 0.008 * known.breaking[i])
    between = one.share("breaking", "dead", 0.0, 0.3, np.linspace(0.0, 2.3, 93))
    assert between.min() >= 0.008 * 50.0 - 1e-12
    assert between.max() <= 0.008 * 220.0
    # a knot's strain is that of its station: halfway out five eighths of the grip's
    half = one.share("breaking", "dead", 0.4, 0.3, 0.2)
    assert half == pytest.approx(5.0 / 8.0 * one.share("breaking", "dead", 0.0, 0.3, 0.2))


def test_no_knot_is_clear_wood_and_a_swirl_ends_at_three_radii():
    one = strength()
    assert one.used("dead", 0.0, 0.0, 0.5) == pytest.approx(0.008 * 50.0)
    assert one.used("dead", 0.0, 0.2, 1.0 + 3.0 * 0.2 - 1e-6) == pytest.approx(0.4, abs=1e-4)
    assert one.used("dead", 0.0, 0.2, 1.0 + 3.0 * 0.2 + 1e-6) == 0.0
    assert one.used("dead", 0.0, 0.2, -0.4) == one.used("dead", 0.0, 0.2, 0.4)


def test_a_larger_knot_in_the_same_column_is_no_milder():
    raw = np.array([[1.0, 1.0], [1.6, 0.9], [1.5, 2.0]])
    assert np.array_equal(rising(raw), [[1.0, 1.0], [1.6, 1.0], [1.6, 2.0]])


def test_the_columns_meet_the_edge_with_the_rim():
    for size in (0.1, 0.3, 0.5):
        middle, midway, inside, half, outside = columns(size)
        assert middle == 0.0
        assert midway < inside
        assert inside + size < 1.0 < inside + size + 0.06
        assert half == 1.0
        assert outside - size < 1.0, "a part of it is still in the limb"


def test_every_trial_is_made_once_and_no_bow_is_crowded():
    trials = [Trial(state=s, size=z, column=k) for s in ("live", "dead") for z in SIZES
              for k in range(5)]  # fmt: skip
    bows = [batch for _, batch in _batches(trials)]
    assert sorted(one.label for bow in bows for one in bow) == sorted(t.label for t in trials)
    assert len(bows) % 2 == 0
    assert max(len(bow) for bow in bows) <= 6


def test_a_first_look_goes_by_the_width_that_is_left():
    """Common practice and ASTM D245 (from memory): a middle knot by the width it takes, one
    at the edge by its square."""
    one = width_table(np.linspace(0.0, 0.8, 9), np.linspace(0.0, 1.0, 5))
    assert one.at(np.array([0.3]), np.array([0.0]), "breaking")[0][0] == pytest.approx(1.0 / 0.7)
    assert one.at(np.array([0.3]), np.array([1.0]), "breaking")[0][0] == pytest.approx(0.7**-2.0)
