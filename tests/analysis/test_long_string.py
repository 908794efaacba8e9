"""A pull on a long string is refused where the bow would not hold still, and warns of a set."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.long_string import pull_long_string
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.errors import ConvergenceError, GeometryError

CASES = Path(__file__).parents[2] / "cases"


def ash(width=1.0, thickness=1.0):
    setup = build_setup(read_case(CASES / "ash_flatbow.toml"))
    stave = setup.stave
    stave = replace(
        stave,
        width=width * stave.width,
        thickness=thickness * stave.thickness,
        belly="flat",
        belly_corner=0.0,
    )
    return replace(setup, stave=stave, elements_per_limb=8, fineness=0.3)


def test_a_limb_deeper_than_wide_kicks_over_and_is_refused():
    setup = ash(width=0.2, thickness=2.0)
    with pytest.raises(
        ConvergenceError, match="the bow is not stable: the least push sideways"
    ) as error:
        pull_long_string(setup, 1.9, force=300.0)
    assert not error.value.last_state.stable
    assert error.value.draw_length > 0.0


def test_caution_past_the_proportional_limit():
    setup = ash()
    wood = setup.stave.heartwood
    limit = wood.strength.compression_proportional_limit / wood.elasticity.E_L
    said = []
    for force in np.linspace(60.0, 200.0, 8):
        pulled = pull_long_string(setup, 1.9, force=float(force))
        assert len(pulled.cautions) == np.sum(pulled.strain_there > limit)
        said.append(len(pulled.cautions))
    assert said[0] == 0
    assert said[-1] == 2
    assert f"{limit:.2%}" in pulled.cautions[0]
    with pytest.raises(GeometryError, match="wood breaks near 1 %; pull less"):
        pull_long_string(setup, 1.9, force=20000.0)
