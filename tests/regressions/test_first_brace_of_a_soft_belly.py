"""A bow with a weak belly and one thin place was refused at its first brace though it stands.

Newton's method leapt from the elastic brace past the equilibrium in which the thin place has
crushed; by way of lower braces it is found.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import limbfe
from limbfe.analysis.bow.model import build_model
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.yielding import draw_with_yield, yielding_sections
from limbfe.case.build import build_setup

CASES = Path(__file__).parents[2] / "cases"


def test_first_brace_of_a_soft_belly():
    setup = build_setup(limbfe.read_case(CASES / "ash_flatbow.toml"))
    stave, weak = setup.stave, 0.7
    strength = stave.heartwood.strength
    strength = replace(
        strength,
        compression=weak * strength.compression,
        compression_proportional_limit=weak * strength.compression_proportional_limit,
        compression_plateau=weak * strength.compression_plateau,
    )
    thickness = np.where(np.isclose(stave.x, 0.3), 0.95, 1.0) * stave.thickness
    heart = replace(stave.heartwood, strength=strength)
    stave = replace(stave, heartwood=heart, thickness=thickness)
    setup = adjust(setup, stave=stave, analysis={"elements_per_limb": 4, "fineness": 0.5})
    model = build_model(setup)
    sections = yielding_sections(model.stations)
    braced = draw_with_yield(model.bow, setup.stringing, sections, lambda _: ((), ())).braced
    assert braced.stable
    assert braced.brace_height == pytest.approx(0.15, abs=1e-9)
    assert braced.residuals[-1] < 1e-9
