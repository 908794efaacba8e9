"""The search for one factor, on figures that are powers of it: closed forms."""

from __future__ import annotations

import math

import pytest

from limbfe.errors import ConvergenceError, GeometryError
from limbfe.studies.thickness_factor import Aim, find_factor


def aim(wanted, power=3.0, solve=lambda factor: factor):
    return Aim(
        solve=solve,
        gap=lambda bow: math.log(bow**power / wanted),
        words=lambda gap: f"{wanted * math.exp(gap):.3f} N",
        within=1e-6,
    )


def test_a_power_law_is_met_in_one_step():
    solved = []
    met = find_factor(aim(1.6, solve=lambda factor: solved.append(factor) or factor), 1.0, 3.0)
    assert met.factor == pytest.approx(1.6 ** (1 / 3), rel=1e-9)
    assert len(solved) == 2
    assert met.power == pytest.approx(3.0)


def test_the_slope_between_two_bows_makes_up_for_a_wrong_power():
    met = find_factor(aim(0.7, power=1.0), 1.0, 3.0)
    assert met.factor == pytest.approx(0.7, rel=1e-6)
    assert met.bow == met.factor


def test_a_bow_that_cannot_be_solved_is_come_near_to_by_halves():
    def solve(factor):
        if factor > 1.2:
            raise GeometryError("too thick to be strung")
        return factor

    with pytest.raises(ConvergenceError, match=r"gives 2\.000 N.*too thick to be strung") as stuck:
        find_factor(aim(2.0, solve=solve), 1.0, 3.0)
    nearest = float(str(stuck.value).split("reached is ")[1].split(" N")[0])
    assert 1.70 < nearest <= 1.2**3
    assert find_factor(aim(1.7, solve=solve), 1.0, 2.0).factor == pytest.approx(1.7 ** (1 / 3))


def test_another_bow_is_not_offered():
    with pytest.raises(ConvergenceError, match="another bow"):
        find_factor(aim(40.0), 1.0, 3.0)


def test_the_first_bow_speaks_for_itself():
    def solve(factor):
        raise GeometryError("no brace height")

    with pytest.raises(GeometryError, match="no brace height"):
        find_factor(aim(2.0, solve=solve), 1.0, 3.0)
