"""Clear wood where its fibres run out of the limb: how far it is shortened until it is crushed."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from limbfe.analysis.wood.limb_wood import wood_points
from limbfe.api import read_case
from limbfe.case.build import bare_stave
from limbfe.stave.stave import with_columns

ASH = Path(__file__).parents[3] / "cases" / "ash_flatbow.toml"


def test_wood_at_a_slope_is_crushed_sooner_by_as_much_as_it_is_weaker():
    """The law of the belly keeps its form: strength and strain are scaled alike."""
    stave = bare_stave(read_case(ASH))

    def middle(slope):
        sloped = with_columns(stave, run_out=np.full(len(stave.x), slope))
        stations = SimpleNamespace(setup=SimpleNamespace(stave=sloped), x=np.array([0.3]))
        found = wood_points(stations, np.zeros((1, 1, 2)))
        return float(found.crushed_at[0, 0]), float(found.strength.compression[0, 0])

    (straight, strong), (there, weak) = middle(0.0), middle(0.15)
    assert weak < 0.98 * strong
    assert 0.007 < straight < 0.013, "about 1 per cent"
    assert there / straight == pytest.approx(weak / strong, rel=1e-9)
