"""A string's segment in a shot that ends close beside the limb it lies on."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.model import build_model
from limbfe.analysis.bow.setup import adjust
from limbfe.api import read_case
from limbfe.beam import brace
from limbfe.beam.shot.setup import Gear, shot_model
from limbfe.case.build import build_setup

CASES = Path(__file__).parents[3] / "cases"


@pytest.mark.parametrize(("case", "height"), [("yew_reflex", 0.14), ("ash_recurve", 0.165)])
def test_it_leaves_the_limb_where_it_does_however_soon_the_segment_ends(case: str, height: float):
    """The free string is straight, so where it is cut does not matter (statics)."""
    setup = adjust(
        build_setup(read_case(CASES / f"{case}.toml")),
        analysis={"elements_per_limb": 8, "fineness": 0.3},
        holding={"kind": "clamp", "arrow_at": 0.0},
    )
    model = build_model(setup)
    braced = brace(model.bow, height=height)
    touching = float(braced.string_lies.max())
    left = [
        shot_model(model.bow, braced, Gear(lies=touching + more))[1].along[:, 1]
        for more in (0.02, 0.04, 0.2)
    ]
    # elements from the tip; 1e-4 of one is 0.01 mm
    assert np.array(left) == pytest.approx(np.array(left[-1:]).repeat(3, axis=0), abs=1e-4)
