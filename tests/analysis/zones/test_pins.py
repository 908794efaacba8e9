"""Knots in a 45 lbf flatbow of hickory: what bowyers carry and what they do not.

Common practice: live pins of 3/16 and 1/4 in in the middle of the back are carried routinely, with
a hairline beside them or without; measured pieces with such knots kept 0.95 of their load
(`limbfe.failure.measured`).  A knot of half the width is none that is carried.
"""

import pytest

from limbfe.analysis.assess import look_at_zone
from limbfe.analysis.bow.solve import solve_bow
from limbfe.api import read_case
from limbfe.case.build import build_setup

BOW = """
title = "Hickory flatbow, 45 lbf"
[wood.whole]
species = "mockernut hickory"
moisture = 10
[grain]
ring_radius = "150 mm"
[section]
back = "flat"
belly = { corner = "3 mm" }
[limb.both]
unit = "in"
station   = [0, 2.4, 4.7, 6.7, 12, 17, 22.5, 27.5, 31.5, 34.5]
width     = [1.1, 1.1, 1.5, 2.1, 2.1, 2.05, 1.85, 1.45, 1.0, 0.5]
thickness = [1.2, 1.1, 0.7, 0.47, 0.45, 0.425, 0.395, 0.365, 0.35, 0.35]
[grip]
stiff_length = "7 in"
hold = "hand"
hand_at = "-10 mm"
arrow_at = "40 mm"
[string]
brace_height = "6 in"
stiffness = "38 kN"
mass = "8 g"
[draw]
length = "28 in"
steps = 30
[[knot]]
name = "A"
limb = "upper"
at = "12 in"
face = "back"
across = "0 in"
diameter = "DIAMETER"
state = "live"
"""


@pytest.fixture(scope="module")
def judged(tmp_path_factory):
    def one(diameter):
        path = tmp_path_factory.mktemp("pins") / "bow.toml"
        path.write_text(BOW.replace("DIAMETER", diameter))
        return look_at_zone(solve_bow(build_setup(read_case(path))), "A").result

    return one


@pytest.mark.slow
def test_a_live_pin_is_sound_with_a_hairline(judged):
    """The larger of the two: a smaller knot uses less (`test_walks`)."""
    found = judged("1/4 in")
    assert (found.verdict, found.split_course) == ("sound", "stays short")
    assert found.mode == "a hairline beside it, common and harmless"
    assert found.failure_probability <= 0.03
    assert found.strength_ratio > 0.9


@pytest.mark.slow
def test_a_knot_of_half_the_width_is_not_sound(judged):
    found = judged("1 in")
    assert found.verdict != "sound"
    assert found.strength_ratio < 0.7
