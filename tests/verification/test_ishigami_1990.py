"""Variance-based indices of Ishigami's function.

T. Ishigami, T. Homma, An importance quantification technique in uncertainty analysis for computer
models, Proc. First International Symposium on Uncertainty Modeling and Analysis (1990) 398-403
(from memory): f = sin x1 + a sin^2 x2 + b x3^4 sin x1, x uniform on -pi to pi.  Its variances are
recomputed here by hand: V1 = (1 + b pi^4 / 5)^2 / 2, V2 = a^2 / 8, V13 = b^2 pi^8 (1/18 - 1/50).
"""

import numpy as np
import pytest
from scipy.special import ndtr

from limbfe.failure.indices import variance_indices

A, B = 7.0, 0.1
V1, V2 = 0.5 * (1.0 + B * np.pi**4 / 5.0) ** 2, A**2 / 8.0
V13 = B**2 * np.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
WHOLE = V1 + V2 + V13
FIRST = {"one": V1 / WHOLE, "two": V2 / WHOLE, "three": 0.0, "none": 0.0}
TOTAL = {"one": (V1 + V13) / WHOLE, "two": V2 / WHOLE, "three": V13 / WHOLE, "none": 0.0}
GROUPS = {"one": (0,), "two": (1,), "three": (2,), "none": (3,)}


def ishigami(u):
    x1, x2, x3 = (np.pi * (2.0 * ndtr(u[:, k]) - 1.0) for k in range(3))
    return {"f": np.sin(x1) + A * np.sin(x2) ** 2 + B * x3**4 * np.sin(x1), "flat": 0.0 * x1 + 3.0}


def indices(count, seed):
    first, second = np.random.default_rng(seed).standard_normal((2, count, 4))
    return variance_indices(ishigami, GROUPS, first, second)


def test_indices_are_those_of_the_closed_form():
    """100,000 samples: bands of about 0.01."""
    found = indices(100_000, 11)["f"]
    for name in GROUPS:
        assert found[name].first == pytest.approx(FIRST[name], abs=0.015)
        assert found[name].total == pytest.approx(TOTAL[name], abs=0.015)
    assert found["none"].total == found["none"].first == 0.0


def test_bands_hold_95_of_100():
    repeats = [indices(1500, seed)["f"] for seed in range(150)]
    for name in ("one", "two"):
        held = [abs(one[name].first - FIRST[name]) < one[name].first_off for one in repeats]
        assert 0.88 <= np.mean(held) <= 1.0


def test_two_inputs_together_are_one():
    first, second = np.random.default_rng(3).standard_normal((2, 50_000, 4))
    found = variance_indices(ishigami, {"both": (0, 2), "two": (1,)}, first, second)["f"]
    assert found["both"].first == pytest.approx((V1 + V13) / WHOLE, abs=0.02)


def test_what_does_not_scatter_has_no_indices():
    assert indices(500, 1)["flat"]["one"].total == 0.0
