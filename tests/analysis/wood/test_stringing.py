"""How low and high a reflexed bow can be strung, and what that takes at the tips."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.wood.stringing import CLOSE, string_on
from limbfe.analysis.wood.when_braced import would_be_braced
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.errors import ConvergenceError

CASES = Path(__file__).parents[3] / "cases"


@pytest.fixture(scope="module")
def setup() -> BowSetup:
    given = build_setup(read_case(CASES / "yew_reflex.toml"))
    return adjust(given, analysis={"elements_per_limb": 10, "fineness": 0.3})


@pytest.mark.slow
def test_a_reflexed_bow_is_strung_between_what_stands_and_what_breaks(setup: BowSetup):
    strung = string_on(setup)
    low, high = strung.span
    assert strung.wanted.brace_height == pytest.approx(setup.stringing.brace_height, abs=1e-9)
    assert low < strung.wanted.brace_height < high

    def braced(height: float) -> str:
        stringing = replace(setup.stringing, brace_height=height, length=None)
        return " ".join(map(str, would_be_braced(replace(setup, stringing=stringing))))

    # found apart: the bow built and braced anew
    refused = "Do not string this bow"
    assert refused not in braced(low + CLOSE) + braced(high - CLOSE)
    assert "not stable" in braced(low - 2.0 * CLOSE)
    assert refused in braced(low - 2.0 * CLOSE)
    assert "already gives way" in braced(high + 2.0 * CLOSE)
    # a higher brace takes a shorter string, and more to slip it on
    lengths, forces = zip(*((one.string_length, one.force) for one in strung.heights), strict=True)
    assert all(a > b for a, b in pairwise(lengths))
    assert all(a < b for a, b in pairwise(forces))
    assert strung.heights[0].lies[0] > 0.05 > strung.heights[-1].lies[0] == 0.0


@pytest.mark.slow
def test_as_it_is_asked_for_or_not_at_all(setup: BowSetup):
    higher = string_on(setup, 0.18)
    assert higher.wanted.brace_height == pytest.approx(0.18, abs=1e-6)
    told = higher.to_dict()
    assert told["force_to_string_N"] == higher.wanted.force
    assert {"lies_upper_mm", "brace_height_mm"} <= higher.rows()[0].keys()
    with pytest.raises(ConvergenceError, match="brac"):
        string_on(setup, 1.2)
