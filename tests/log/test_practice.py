"""What common practice keeps knots from, whatever a table of strengths says."""

from dataclasses import replace

import numpy as np
import pytest

from limbfe.log.layout.costs import meet, on_the_back, practice_cost, share_of_width
from limbfe.log.layout.practice import (
    EDGE,
    GONE,
    at_edge,
    beside_check,
    in_limb,
    in_middle_third,
)
from limbfe.log.layout.search import search
from limbfe.log.log import Crack

from .logs import half_log, knot, task_for


def test_a_knot_is_in_the_edge_from_rim_to_rim_and_clear_by_half_or_a_quarter_diameter():
    across = np.array([0.0, 0.010, 0.014, 0.016, 0.020, 0.024, 0.025, 0.026, 0.04])
    found = at_edge(across, np.full(9, 0.004), 0.020)
    assert np.allclose(found, [0, 0, 0.5, 1, 1, 1, 0.5, 0, 0])
    assert np.array_equal(found, at_edge(-across, np.full(9, 0.004), 0.020))
    held = in_limb(across, np.full(9, 0.004), 0.020)
    assert np.allclose(held, [1, 1, 1, 1, 0.5, 0, 0, 0, 0])


def test_the_middle_third_of_a_limb_is_a_third_of_it():
    share = np.linspace(0.0, 1.0, 601)
    inside = np.array([in_middle_third(float(one)) > 0.0 for one in share])
    assert inside.mean() == pytest.approx(1.0 / 3.0, abs=0.005)
    assert share[inside].mean() == pytest.approx(0.5, abs=0.002)
    assert in_middle_third(0.5) == 1.0


def test_a_line_goes_round_an_edge_even_where_a_table_makes_nothing_of_it(wanted, strength):
    """Common practice: no knot in an edge.  With a table by which no knot costs anything, the line
    still moves until the knot is clear of the edge; and a knot of the tip is let be."""
    plain = {
        state: replace(table, breaking=np.zeros(table.breaking.shape))
        for state, table in strength.tables.items()
    }
    blind = replace(strength, tables=plain)
    marked = half_log(marks=(knot(x=0.65, across=0.018, diameter=0.010),))
    rules = {"upper_end": "top", "cut_butt": 0.15}
    line = search(task_for(marked, wanted, blind, **rules))[0].line
    task = task_for(marked, wanted, blind, **rules)
    width = float(task.size_at(0.65 - line.grip)[0])
    away = abs(abs(0.018 - float(line.offset_at(0.65))) - 0.5 * width)
    assert away > 1.4 * 0.005
    at = np.asarray(0.018 - 0.5 * width)
    mark = marked.marks[0]
    places = (np.asarray(0.018), at)
    inside, edge = (float(practice_cost(task, meet(task, mark, "top", 0.95, y))) for y in places)
    assert inside < 0.1 * edge < edge <= 1.1 * EDGE
    in_the_grip = float(practice_cost(task, meet(task, mark, "top", 0.65, at)))
    assert in_the_grip < 0.05 * edge


def test_a_knot_outside_counts_until_it_is_clear_half_way_through_the_limb(wanted, strength):
    """A branch is a cone from the pith: half way down it lies nearer to the middle, and is as much
    thinner, so that it counts in the edge for longer than on the back."""
    mark = knot(x=0.65, across=0.0, diameter=0.012, lean=0.0)
    task = task_for(half_log(marks=(mark,)), wanted, strength)
    offset = np.linspace(0.0, 0.035, 701)
    cost = practice_cost(task, meet(task, mark, "top", 1.0, offset))
    last = np.flatnonzero(cost > 0.0)[-1]
    across, diameter, _ = on_the_back(task.log, mark, offset, arched=task.arched)
    width, thickness = (float(size) for size in task.size_at(-0.35))
    nearer = 1.0 - 0.5 * thickness / float(task.log.at("pith", 0.65))
    beside = nearer * abs(across[last]) - 0.5 * width
    assert beside == pytest.approx(GONE * nearer * 0.5 * diameter[last], abs=1e-4)
    assert np.all(cost[last + 1 :] == 0.0)


def test_both_ends_are_tried_upwards_of_a_bow_whose_limbs_differ(wanted, strength):
    """In width, thickness or stations alone; of one that is its own mirror one way is enough."""
    x = np.array([-0.8, -0.4, -0.1, 0.0, 0.1, 0.4, 0.8])
    even = {"x": x, "width": np.array([12, 34, 36, 30, 36, 34, 12]) * 1e-3}
    even["thickness"] = np.array([10, 14, 18, 28, 18, 14, 10]) * 1e-3
    for change, ends in (
        ({}, ("top",)),
        ({"width": even["width"] + [0, 0, 0, 0, 0, 1e-3, 0]}, ("top", "butt")),
        ({"thickness": even["thickness"] - [0, 1e-3, 0, 0, 0, 0, 0]}, ("top", "butt")),
        ({"x": np.append(x[:-1], 0.82)}, ("top", "butt")),
    ):
        task = task_for(half_log(), replace(wanted, **even | change), strength)
        assert task.ends == ends, change


def test_a_checked_end_is_sawn_off_where_the_stave_is_long_enough(wanted, strength):
    """Common practice: a check runs further than it shows."""
    crack = Crack(start=0.0, end=0.1, across=0.03, across_end=0.03, depth=0.03)
    whole, checked = half_log(), half_log(cracks=(crack,))
    middle, moved = (
        search(task_for(log, wanted, strength, upper_end="top"))[0].line for log in (whole, checked)
    )
    assert middle.nocks[0] > 0.12, "the middle of the stave, past the check, which changes nothing"
    assert moved.grip == pytest.approx(middle.grip, abs=1e-3)
    long = half_log(cracks=(replace(crack, end=0.22, across_end=0.03),))
    line = search(task_for(long, wanted, strength, upper_end="top"))[0].line
    assert line.nocks[0] > 0.22
    assert beside_check(0.1, 1.9, (0.0, 0.2)) == pytest.approx(0.5)
    assert beside_check(0.2, 1.9, (0.0, 0.2)) == 0.0


def test_a_knot_that_no_line_can_meet_needs_no_trial(wanted, strength):
    near, far = knot(x=0.65, across=0.018), knot(name="f", x=0.65, across=0.039)
    task = task_for(half_log(marks=(near, far)), wanted, strength)
    width = float(task.size_at(0.65 - 1.0)[0])
    assert share_of_width(task, near, "top", 1.0) == pytest.approx(0.010 / width, rel=0.1)
    assert share_of_width(task, replace(near, x=0.05), "top", 1.0) == 0.0, "sawn off"
    narrow = {name: np.full(9, 0.024) for name in ("left", "right")}
    tight = task_for(half_log(**narrow, marks=(far,)), wanted, strength)
    assert share_of_width(tight, far, "top", 1.0) == 0.0, "no line within the edges meets it"
