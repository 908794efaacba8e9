"""Lines done in turns: by how little the limbs stray on the way, in how few rounds."""

from __future__ import annotations

from itertools import permutations

import pytest

from limbfe.studies.take.results import EYE, TILLER, out_of_tiller
from limbfe.studies.take.turns import MOST_TURNS, best_order, fewest_turns, most_out

UNEVEN = [-0.024, 0.059, -0.0165]
"""What three lines change the tiller by, m, each alone out of all bounds; a fourth evens them."""


def way(tiller: float, changes: list[float], turns: int) -> list[float]:
    """The tiller after every part of a line, counted up one by one; the end is not on the way."""
    places = []
    for _ in range(turns):
        for change in changes:
            tiller += change / turns
            places.append(tiller)
    return places[:-1]


@pytest.mark.parametrize("start", [-0.0077, 0.002, 0.014])
def test_the_limbs_stray_no_further_than_an_eye_tells(start: float):
    uneven = [*UNEVEN, 0.003 - start - sum(UNEVEN)]
    order = best_order(start, uneven)
    changes = [uneven[k] for k in order]
    turns = fewest_turns(start, changes)
    assert 1 < turns < MOST_TURNS
    low, high = min(start, TILLER[0]) - EYE, max(start, TILLER[1]) + EYE

    def keeps(changes: list[float], turns: int) -> bool:
        return all(low - 1e-12 <= one <= high + 1e-12 for one in way(start, changes, turns))

    assert keeps(changes, turns)
    # in no order do fewer rounds, all of them tried that do not begin with what is weak already
    for other in permutations(uneven):
        if start < -EYE and other[0] < 0.0:
            continue
        assert not any(keeps(list(other), fewer) for fewer in range(1, turns))


def test_the_weaker_limb_is_never_eased_first():
    """Even out first (common practice), though in the other order fewer rounds would do."""
    changes = [-0.014, 0.048, -0.0055]
    order = best_order(-0.0256, changes)
    assert changes[order[0]] > 0.0
    fewest = fewest_turns(-0.0256, [changes[k] for k in order])
    assert min(fewest_turns(-0.0256, list(one)) for one in permutations(changes)) < fewest
    # with nothing but the weaker limb on the list there is no other way to begin
    assert sorted(best_order(-0.0256, [-0.014, -0.0055])) == [0, 1]


def test_lines_that_keep_the_tiller_are_done_one_after_the_other():
    assert fewest_turns(-0.002, [0.006, -0.003, 0.002]) == 1
    # coming back from where it was
    assert fewest_turns(-0.02, [0.009, 0.008]) == 1
    # the last line ends where it ends, in however many rounds
    assert fewest_turns(0.0, [-0.03]) == 1


def test_how_far_out_counts_every_part_of_every_round():
    changes = [0.02, -0.016]
    after = [0.002, 0.004]  # of two rounds from 0
    assert most_out(0.0, changes, after) == pytest.approx(0.002 + 0.01 - TILLER[1])
    # where the limbs are out now is on the way too
    assert most_out(-0.03, changes, [-0.028, -0.026]) == pytest.approx(0.03)
    assert out_of_tiller(-0.03) == pytest.approx(0.03)
