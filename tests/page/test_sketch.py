"""The drawing: sizes are those of the case, and a half typed case is drawn as far as it goes."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from limbfe.case.load import read_case
from limbfe.page.sketch import draw_sketch
from tests.case.conftest import COMPLETE

CASES = Path(__file__).parents[2] / "cases"
RAW = tomllib.loads(COMPLETE)


def test_limbs_lie_where_they_were_measured():
    bow = draw_sketch(RAW, None, None)["bow"]
    at = {(one["limb"], one["row"]): one["x"] for one in bow["stations"]}
    assert at["upper", 6] == 880.0
    assert at["lower", 6] == pytest.approx(-34 * 25.4)
    x, half = np.array(bow["x"]), np.array(bow["half_width"])
    # 33 mm at 320 mm up; 1.1 in at 20 in down
    assert half[np.argmin(abs(x - 320))] == pytest.approx(16.5)
    assert half[np.argmin(abs(x + 508))] == pytest.approx(1.1 * 12.7)
    assert bow["grip"] == pytest.approx(50.8)


def test_what_cannot_be_read_is_left_out_and_the_rest_drawn():
    limb = {
        "unit": "mm",
        "station": [0, "1oo", 200, 150, 400],
        "width": [30, 30, 28, 27, ""],
        "thickness": [20, 18, "15 mm", 14, 10],
    }
    bow = draw_sketch({"limb": {"both": limb}}, None, None)["bow"]
    # a letter in a number, a station out of order and one without width are not drawn
    assert [one["x"] for one in bow["stations"]] == [-200.0, 0.0, 200.0]
    for raw in ({}, {"limb": 3}, {"limb": {"both": {"station": "no"}}}, {"limb": {"upper": []}}):
        assert draw_sketch(raw, None, None)["bow"] is None


def test_the_section_has_the_size_of_its_station_and_its_crown():
    # at 320 mm: 33 wide, 21 thick, back arched by 70 mm: the edge lies R - sqrt(R^2 - b^2/4) lower
    section = draw_sketch(RAW, None, 0.32)["section"]
    y, z = np.array(section["outline"]).T
    assert np.ptp(y) == pytest.approx(33.0, abs=0.01)
    assert np.ptp(z) == pytest.approx(21.0, abs=0.01)
    drop = 70.0 - np.sqrt(70.0**2 - 16.5**2)
    assert z[0] == pytest.approx(10.5 - drop, abs=0.01)
    # sapwood 5 below 2 of backing at the middle
    middle = len(section["sapwood"]) // 2
    assert section["sapwood"][middle][1] == pytest.approx(10.5 - 7.0, abs=0.05)
    # positive: the back faces more to the archer's right, which is a turn to the right here
    assert draw_sketch(RAW, None, 0.88)["section"]["twist"] == pytest.approx(5.0)


def test_a_knot_is_cut_where_it_lies_and_nowhere_else(tmp_path):
    path = tmp_path / "elm.toml"
    path.write_text((CASES / "elm_longbow.toml").read_text("utf-8"))
    raw, case = tomllib.loads(path.read_text("utf-8")), read_case(path)
    found = draw_sketch(raw, case, 0.298)
    (cut,) = found["section"]["zones"]
    y = np.array(cut["line"])[:, 0]
    assert cut["name"] == "A"
    assert np.ptp(y[np.r_[0, -1]]) == pytest.approx(8.6, abs=0.3)  # 8 across, wider at the skin
    assert draw_sketch(raw, case, 0.32)["section"]["zones"] == []
    knot = found["zones"][0]
    assert (knot["x"], knot["across"], knot["diameter"]) == (298.0, 4.0, 8.0)
    # it leans away from the pith, so it comes out nearer to the middle, 5 mm across
    assert knot["far"]["face"] == "belly"
    assert knot["far"]["diameter"] == pytest.approx(5.0)
    assert abs(knot["far"]["across"]) < 4.0
