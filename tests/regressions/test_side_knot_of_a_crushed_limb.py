"""A knot that shows on the side of a limb crushed past its peak was said not to converge."""

from __future__ import annotations

import pytest

import limbfe

CASE = """
title = "Narrow round yew with a plugged side knot"
[wood.heartwood]
species = "yew"
moisture = "10 %"
[section]
back = { crown = "40 mm" }
belly = "round"
[limb.both]
unit = "mm"
station = [0, 50, 100, 200, 300, 400, 500, 600, 700, 800, 860]
width = [29, 29, 35, 35, 33, 32, 30, 27, 24, 19, 13]
thickness = [27, 27, 25, 24, 23, 22, 20.5, 19, 17.5, 14.5, 12.5]
[grip]
stiff_length = 0
hold = "hand"
hand_at = "-25 mm"
arrow_at = "25 mm"
[string]
brace_height = "152 mm"
material = "polyester"
strands = 12
[draw]
length = "26 in"
[[knot]]
name = "B"
limb = "lower"
at = "460 mm"
face = "left"
across = 0
diameter = "6.5 mm"
state = "filled"
filler = "epoxy"
"""


@pytest.mark.slow
def test_the_wood_round_it_settles(tmp_path):
    path = tmp_path / "yew.toml"
    path.write_text(CASE)
    zone = limbfe.judge_zone(path, "B").to_dict()
    assert zone["verdict"] in ("sound", "watch", "expect a split", "expect rupture")
    assert zone["strength_used"] > 0.0
