"""Which end is favoured as the upper limb: turned over, the advice turns with it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import drawn_bow, solve_elastic
from limbfe.api import read_case
from limbfe.case.build import build_setup

ASH = Path(__file__).parents[3] / "cases" / "ash_flatbow.toml"


@pytest.mark.parametrize(("weaker", "favoured"), [(1.0, "upper"), (-1.0, "lower"), (0.0, "either")])
def test_the_weaker_end_goes_up(weaker, favoured):
    """Common practice: the stiffer limb below, where the hand loads it more."""
    given = build_setup(read_case(ASH))
    share = np.clip(weaker * given.stave.x / 0.3, 0.0, 1.0)
    stave = replace(given.stave, thickness=given.stave.thickness * (1.0 - 0.03 * share))
    setup = adjust(
        given, stave=stave, drawing={"steps": 1}, analysis={"elements_per_limb": 6, "fineness": 0.3}
    )
    found = drawn_bow(solve_elastic(setup)).upper_limb
    assert found is not None
    assert found.favoured == favoured
    # 3 % of thickness is near 9 % of bending stiffness, most of it where the limb bends
    ratio = float(found.stiffness[1] / found.stiffness[0])
    assert ratio == pytest.approx(0.94**weaker, abs=0.03)
    # common practice, and statics: the hand below the arrow loads the lower limb more
    assert found.moment[0] > found.moment[1] > 0.0
    assert "50 mm (1.97 in) below the arrow" in str(found.reason)
