"""Strength laws."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbfe.errors import MaterialError
from limbfe.wood import (
    BellyLaw,
    bending_strength,
    clear_tension,
    crushed_strain,
    hankinson,
    load_duration_factor,
    make_wood,
    plateau_stress,
    yield_points,
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


def belly(**changed):
    """Return the law of a middling hardwood."""
    numbers = {"modulus": 13e9, "crushing": 50e6, "limit": 37.5e6, "plateau": 44e6}
    return BellyLaw(**numbers | changed)


@settings(deadline=None)
@given(tension=st.floats(60e6, 400e6), plateau=st.floats(35e6, 50e6))
def test_tension_and_bending_laws_are_inverse(tension, plateau):
    law = belly(plateau=plateau)
    bending = bending_strength(law, tension)
    again = clear_tension(law, bending)
    # where a soft plateau lets the bar carry less for a while, the weaker back is the answer
    assert again <= tension * (1 + 1e-6)
    assert bending_strength(law, again) == pytest.approx(bending, rel=1e-6)


def test_yield_stress_rises_to_the_crushing_strength_and_falls_to_the_plateau():
    """The limit where 0.004 % is left, the peak at 0.044 %, the plateau 0.4 % further."""
    stress, plastic = yield_points(belly())
    assert np.interp([4e-5, 4.4e-4, 4.44e-3], plastic, stress) == pytest.approx(
        [37.5e6, 50e6, 44e6]
    )
    assert np.all(np.diff(stress[:-1]) > 0)
    assert np.all(np.diff(plastic) > 0)
    assert float(crushed_strain(13e9, 44e6)) == pytest.approx(44 / 13000 + 0.00444)


def test_a_fibre_that_never_yields_has_no_finite_stress():
    stress, _ = yield_points(belly(crushing=np.array([50e6, np.inf]), limit=np.full(2, 37.5e6)))
    assert np.all(np.isfinite(stress[:, 0]))
    assert np.all(np.isinf(stress[:, 1]))


def test_plateau_by_hand_and_never_above_the_crushing_strength():
    """0.622 sqrt(50 x 100) = 43.98."""
    assert plateau_stress(50e6, 100e6) == pytest.approx(43.98e6, rel=1e-3)
    assert plateau_stress(50e6, 140e6) == 50e6


@pytest.mark.parametrize("bending", [49e6, 150e6])
def test_a_ratio_clear_wood_cannot_have_is_refused(bending):
    with pytest.raises(MaterialError, match="clear wood has 1 to 3"):
        clear_tension(belly(), bending)
    with pytest.raises(MaterialError, match="below compression"):
        bending_strength(belly(), 40e6)


@pytest.mark.parametrize(
    ("name", "value"),
    [("compression_plateau", 55e6), ("compression_plateau", 15e6),
     ("compression_proportional_limit", 52e6)],
)  # fmt: skip
def test_numbers_of_the_belly_out_of_range_are_refused_by_name(name, value):
    with pytest.raises(MaterialError, match=f"{name} = .*compression_strength"):
        make_wood(name="w", species="white ash", moisture=0.12, given={name: value}, cov={})


def test_duration_must_be_positive():
    with pytest.raises(MaterialError, match="above zero"):
        load_duration_factor([1.0, 0.0])
