"""Ranges on the command line."""

import numpy as np
import pytest

from limbfe.case.values import span
from limbfe.errors import CaseError


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("4:20:2", 1e-3 * np.arange(4, 21, 2)),
        ("-10:10:5", 1e-3 * np.array([-10, -5, 0, 5, 10])),
        ("24:30:1 in", 0.0254 * np.arange(24, 31)),
        ("24:25:1/2in", 0.0254 * np.array([24.0, 24.5, 25.0])),
        (" 1 1/2 : 2 : 1/4 in ", 0.0254 * np.array([1.5, 1.75, 2.0])),
        ("10:4:-3", 1e-3 * np.array([10, 7, 4])),
        ("0:0.3:0.1 cm", 1e-2 * np.array([0.0, 0.1, 0.2, 0.3])),
        ("4:9:2", 1e-3 * np.array([4, 6, 8])),
        ("5:5:1", [5e-3]),
    ],
)
def test_a_range_includes_both_ends(text, values):
    assert span("--across", text, "length", "mm") == pytest.approx(values, abs=1e-12)


def test_per_cent_is_the_default_unit_of_fractions():
    assert span("--moisture", "6:14:4", "fraction", "%") == pytest.approx([0.06, 0.10, 0.14])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("4", "is not a range"),
        ("4:20", "is not a range"),
        ("4:20:2:1", "is not a range"),
        ("4::2", "is not a range"),
        ("4:20:mm", "is not a range"),
        ("4:20:0", "step of zero"),
        ("20:4:2", "away from its stop"),
        ("4:20:2 lbf", "must be a length"),
        ("4mm:20:2", "its start"),
        ("4:20:2 furlong", "unknown unit"),
        ("nan:20:2", "not a finite number"),
        ("0:1e9:1", "at most 200"),
        ("4,5:20:2", "its start"),
    ],
)
def test_what_is_no_range_is_refused_in_one_line(text, said):
    with pytest.raises(CaseError) as refused:
        span("--diameter", text, "length", "mm")
    assert said in str(refused.value)
    assert text in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_range_without_any_unit_is_refused():
    with pytest.raises(CaseError, match="has no unit"):
        span("--draw", "24:30:1", "length")
