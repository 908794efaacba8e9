"""Strength laws."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbfe.errors import MaterialError
from limbfe.wood import (
    bending_strength,
    clear_tension,
    hankinson,
    load_duration_factor,
    make_wood,
)

ASH = make_wood(name="whole", species="white ash", moisture=0.12, given={}, cov={}).strength


@settings(deadline=None)
@given(across=st.floats(0.02, 1.0), n=st.floats(1.5, 2.5), angle=st.floats(-np.pi / 2, np.pi / 2))
def test_hankinson_runs_from_along_to_across(across, n, angle):
    assert hankinson(1.0, across, 0.0, n) == pytest.approx(1.0)
    assert hankinson(1.0, across, np.pi / 2, n) == pytest.approx(across)
    here = float(hankinson(1.0, across, angle, n))
    assert here == pytest.approx(float(hankinson(1.0, across, -angle, n)))
    # With the exponent 2 of Hankinson's own formula every angle lies between the two.
    assert across - 1e-12 <= float(hankinson(1.0, across, angle, 2.0)) <= 1.0 + 1e-12


def test_hankinson_by_hand_at_30_degrees():
    """P = 50, Q = 8, n = 2: 400 / (50/4 + 8*3/4) = 21.622."""
    assert hankinson(50.0, 8.0, np.pi / 6, 2.0) == pytest.approx(400.0 / 18.5)


def test_hankinson_of_nothing_to_break_is_infinite():
    angle = np.linspace(0.0, np.pi / 2, 5)
    assert np.all(np.isinf(hankinson(np.inf, np.inf, angle, 1.5)))


@settings(deadline=None)
@given(n=st.floats(1.0, 30.0), fc=st.floats(1e7, 1e8))
def test_tension_and_bending_laws_are_inverse(n, fc):
    assert clear_tension(bending_strength(n * fc, fc), fc) == pytest.approx(n * fc, rel=1e-9)


@pytest.mark.parametrize("bending", [49e6, 150e6])
def test_a_ratio_clear_wood_cannot_have_is_refused(bending):
    with pytest.raises(MaterialError, match="clear wood has 1 to 3"):
        clear_tension(bending, 50e6)
    with pytest.raises(MaterialError, match="below compression"):
        bending_strength(40e6, 50e6)


def test_duration_must_be_positive():
    with pytest.raises(MaterialError, match="above zero"):
        load_duration_factor([1.0, 0.0])
