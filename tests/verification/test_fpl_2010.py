"""Forest Products Laboratory, Wood Handbook: Wood as an Engineering Material, FPL-GTR-190 (2010).

Tables and equations of chapters 4 and 5.  The slope-of-grain figures, the moisture equation and
the density equation are from memory; the exponents, the Poisson's ratios and the strength rows
were read in reprints.
"""

import numpy as np
import pytest

from limbfe.wood import (
    HANKINSON_EXPONENTS,
    Elasticity,
    adjust_density,
    compliance,
    hankinson,
    power_law,
)

# Rise over run, then per cent of the straight-grained value: bending, impact bending, compression.
SLOPE_OF_GRAIN = [
    (1 / 25, 96, 95, 100),
    (1 / 20, 93, 90, 100),
    (1 / 15, 89, 81, 100),
    (1 / 10, 81, 62, 99),
    (1 / 5, 55, 36, 93),
]
# Q/P and exponent that the text beside the table names for each.
HANKINSON = [(0.10, 1.5), (0.05, 1.5), (0.10, 2.5)]


@pytest.mark.parametrize("row", SLOPE_OF_GRAIN)
def test_slope_of_grain_table(row):
    """The text: values fall close to Hankinson curves with these constants.

    The curves never promise more than the table (by over a point) and fall at most 9 points short
    of it, most at gentle slopes; at 1 in 10 and 1 in 5 they agree within 5 points.
    """
    slope, *table = row
    curves = [100 * float(hankinson(1.0, q, np.arctan(slope), n)) for q, n in HANKINSON]
    shortfall = np.array(table) - curves
    assert np.all(shortfall > -1.0)
    assert np.all(shortfall < 9.0)
    if slope >= 1 / 10:
        assert np.all(shortfall < 5.0)


def test_exponents_are_those_of_the_text():
    assert HANKINSON_EXPONENTS["bending"] == 1.5
    assert HANKINSON_EXPONENTS["compression"] == 2.5
    assert 1.5 <= HANKINSON_EXPONENTS["tension"] <= 2.0


@pytest.mark.parametrize(
    ("dry", "green", "expected"),
    [(81.4, 49.6, 94.8), (9.31, 6.83, 10.24)],
    ids=["American elm, bending strength", "Pacific yew, modulus"],
)
def test_moisture_equation_at_8_percent(dry, green, expected):
    """Rows at 12 % and green of FPL-GTR-83 and FPL-GTR-102; closed form, recomputed."""
    value = power_law(dry, green, at=12, saturation=25, moisture=8)
    assert value == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("basic", "at_12"),
    [(0.55, 0.60), (0.64, 0.72), (0.76, 0.86), (0.57, 0.63), (0.46, 0.50), (0.60, 0.66)],
    ids=["white ash", "shagbark", "Osage orange", "rock elm", "American elm", "winged elm"],
)
def test_specific_gravity_from_green_to_12_percent(basic, at_12):
    """Pairs of specific gravity on green volume and at 12 %, two decimals in the tables."""
    dry = adjust_density(1000 * basic * 1.30, at=0.30, to=0.12) / 1120
    assert dry == pytest.approx(at_12, abs=0.0101)


# Table 5-1 ratios E_T, E_R, G_LR, G_LT, G_RT over E_L, Table 5-2 nu_LR nu_LT nu_RT nu_RL nu_TL.
PUBLISHED = {
    "white ash": (0.080, 0.125, 0.109, 0.077, 0.020, 0.371, 0.440, 0.684, 0.059, 0.051),
    "sugar maple": (0.065, 0.132, 0.111, 0.063, 0.020, 0.424, 0.476, 0.774, 0.065, 0.037),
    "red oak": (0.082, 0.154, 0.089, 0.081, 0.020, 0.350, 0.448, 0.560, 0.064, 0.033),
    "white oak": (0.072, 0.163, 0.086, 0.072, 0.020, 0.369, 0.428, 0.618, 0.074, 0.036),
    "black walnut": (0.056, 0.106, 0.085, 0.062, 0.021, 0.495, 0.632, 0.718, 0.052, 0.035),
    "Douglas-fir": (0.050, 0.068, 0.064, 0.078, 0.007, 0.292, 0.449, 0.390, 0.036, 0.029),
}


@pytest.mark.parametrize("name", list(PUBLISHED))
def test_published_constants_are_positive_definite(name):
    """Smallest eigenvalue of E_L S between 0.88 and 0.97 for these sets (recomputed)."""
    t, r, lr, lt, rt, nu_lr, nu_lt, nu_rt, _, _ = PUBLISHED[name]
    e = Elasticity(
        E_L=1.0, E_R=r, E_T=t, G_LR=lr, G_LT=lt, G_RT=rt, nu_LR=nu_lr, nu_LT=nu_lt, nu_RT=nu_rt
    )
    assert 0.87 < np.linalg.eigvalsh(compliance(e))[0] < 0.98


@pytest.mark.parametrize("name", list(PUBLISHED))
def test_small_poisson_ratios_follow_from_symmetry_only_roughly(name):
    """nu_RL and nu_TL as printed differ from nu_LR E_R/E_L and nu_LT E_T/E_L by up to 0.016.

    Both were measured, and small ratios badly; limbfe uses the three large ones and symmetry.
    """
    t, r, *_, nu_lr, nu_lt, _, nu_rl, nu_tl = PUBLISHED[name]
    assert nu_lr * r == pytest.approx(nu_rl, abs=0.017)
    assert nu_lt * t == pytest.approx(nu_tl, abs=0.017)
