"""What lies ahead of a knot's splits: other zones and the edges, never the knot itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.defect.strip import Ellipse
from limbfe.failure.beside import _beyond

from .zones import knot, patch, piece

WIDTH, HALF_LENGTH = 40e-3, 80e-3


def test_another_zone_lies_as_far_ahead_as_its_nearer_end_and_the_own_knot_nowhere():
    own = knot(8e-3, y=2e-3)
    moved = Ellipse(x=30e-3, y=-3e-3, a=3e-3, b=3e-3)
    other = replace(knot(6e-3, name="B"), ellipse=moved)
    rot = replace(patch(10e-3, 4e-3), ellipse=Ellipse(x=-50e-3, y=5e-3, a=10e-3, b=4e-3))
    found = _beyond(
        piece(width=WIDTH, half_length=HALF_LENGTH, knots=(own, other), decays=(rot,)), own
    )
    zones = {one.words: one for one in found if "edge" not in one.words}
    assert set(zones) == {"B", str(rot.name)}
    for name, (away, low, high) in {
        "B": (27e-3, -6e-3, 0.0),
        str(rot.name): (40e-3, 1e-3, 9e-3),
    }.items():
        one = zones[name]
        assert (one.away, one.low, one.high) == pytest.approx((away, low, high)), name
    edges = [one for one in found if "edge" in one.words]
    assert max(one.high for one in edges if one.low == -np.inf) == pytest.approx(-WIDTH / 2)
    assert min(one.low for one in edges if one.high == np.inf) == pytest.approx(WIDTH / 2)
    assert max(one.away for one in edges) == pytest.approx(HALF_LENGTH)


def test_a_zone_that_reaches_over_the_knot_s_middle_is_not_ahead():
    rot = replace(patch(10e-3, 4e-3), ellipse=Ellipse(x=7e-3, y=-9e-3, a=10e-3, b=4e-3))
    found = _beyond(piece(knots=(knot(8e-3),), decays=(rot,)), knot(8e-3))
    assert all("edge" in one.words for one in found)
