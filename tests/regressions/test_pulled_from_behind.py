"""Held by hand, a limb about to kick over was once "drawn" with its back towards the archer.

The pull runs towards the hand, whose distance to the string is the same on both sides; a long
Newton step had jumped to the mirror image, which is an equilibrium and stable.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.model import build_model
from limbfe.analysis.bow.setup import adjust
from limbfe.api import read_case
from limbfe.beam import brace, draw
from limbfe.case.build import build_setup
from limbfe.errors import ConvergenceError
from limbfe.stave.stave import with_columns

CASES = Path(__file__).parents[2] / "cases"


def test_a_limb_about_to_kick_over_is_not_pulled_from_behind():
    given = build_setup(read_case(CASES / "locust_reflex.toml"))
    uneven = 1.0 + 0.04 * np.linspace(-1.0, 1.0, len(given.stave.x)) ** 3
    stave = replace(
        with_columns(given.stave, crown=np.inf),
        width=0.41 * given.stave.width,
        thickness=uneven * given.stave.thickness,
        knots=(),
        decays=(),
    )
    bow = build_model(
        adjust(given, stave=stave, analysis={"elements_per_limb": 6, "fineness": 0.3})
    ).bow
    braced = brace(bow, height=given.stringing.brace_height)
    for length in (0.35, 0.38, 0.39):
        with pytest.raises(ConvergenceError):
            draw(bow, braced, [length])
