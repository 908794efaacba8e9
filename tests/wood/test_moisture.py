"""Moisture adjustment."""

import numpy as np
import pytest

from limbfe.errors import MaterialError
from limbfe.wood import adjust_density, find_species, power_law, table_factor
from limbfe.wood.moisture import adjust_moisture
from limbfe.wood.source import Flag, Source, computed_source, read_flag, weakest_flag


def test_power_law_passes_through_dry_and_green_values():
    law = {"at": 0.12, "saturation": 0.25}
    assert power_law(80.0, 50.0, moisture=0.12, **law) == pytest.approx(80.0)
    assert power_law(80.0, 50.0, moisture=0.25, **law) == pytest.approx(50.0)
    assert power_law(80.0, 50.0, moisture=0.40, **law) == pytest.approx(50.0)
    steps = [power_law(80.0, 50.0, moisture=m, **law) for m in np.linspace(0.05, 0.25, 9)]
    np.testing.assert_allclose(np.diff(np.log(steps)), np.diff(np.log(steps))[0])


def test_table_factor_passes_through_the_tabulated_changes():
    """FPL, Wood Handbook (2010), approximate changes, from memory: E_L +9/-13 %, MOR +30/-25 %."""
    for name, drier, damper in (
        ("E_L", 1.09, 0.87),
        ("bending_modulus", 1.09, 0.87),
        ("E_T", 1.20, 0.77),
        ("G_LR", 1.20, 0.80),
        ("bending_strength", 1.30, 0.75),
        ("tension_strength", 1.0, 0.97),
    ):
        assert table_factor(name, 0.12, 0.25) == pytest.approx(1.0)
        assert table_factor(name, 0.06, 0.25) == pytest.approx(drier)
        assert table_factor(name, 0.20, 0.25) == pytest.approx(damper)
        assert table_factor(name, 0.40, 0.25) == table_factor(name, 0.25, 0.25)


def test_a_row_measured_off_12_percent_comes_back_to_itself():
    """Common yew was measured at 12 to 15 % (13.5 % taken)."""
    row = find_species("common yew")
    assert adjust_moisture(row, "bending_strength", 0.135).value == pytest.approx(92e6)
    drier = adjust_moisture(row, "bending_strength", 0.06)
    back = table_factor("bending_strength", 0.135, 0.25) / 1.30
    assert drier.value * back == pytest.approx(92e6)


def test_outside_the_range_the_adjustment_is_refused():
    row = find_species("rock elm")
    for moisture in (0.03, 0.31):
        with pytest.raises(MaterialError, match="from 5 to 30 %"):
            adjust_moisture(row, "shear_strength", moisture)


def test_density_round_trip():
    for moisture in (0.06, 0.12, 0.28, 0.5):
        there = adjust_density(690.0, at=0.12, to=moisture)
        assert adjust_density(there, at=moisture, to=0.12) == pytest.approx(690.0)


def test_a_computed_figure_is_as_weak_as_its_weakest_ingredient():
    read = Source(text="a book", flag=Flag.READ, address="http://one")
    fair = Source(text="a thought", flag=Flag.MEMORY_FAIR)
    low = Source(text="a guess", flag=Flag.MEMORY_LOW, address="http://two")
    choice = Source(text="a choice", flag=Flag.ASSUMED)
    assert computed_source("x", read, read).flag is Flag.DERIVED
    both = computed_source("x", fair, read, low)
    assert (both.flag, both.address) == (Flag.MEMORY_LOW, "http://one http://two")
    assert computed_source("x", fair, choice).flag is Flag.ASSUMED
    assert weakest_flag([Flag.GIVEN]) is Flag.DERIVED
    with pytest.raises(MaterialError, match='"heard": use one of given, read'):
        read_flag({"flag": "heard"})
