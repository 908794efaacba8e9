"""What is said of how a bow is strung."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from limbfe.analysis.wood.stringing import StringingOn, Strung
from limbfe.report.stringing import stringing_tables
from limbfe.units import IMPERIAL


def strung(height: float) -> Strung:
    return Strung(
        brace_height=height, string_length=1.6, tension=900.0, force=500.0, lies=(0.0, 0.0)
    )


@pytest.mark.parametrize(
    "wrong", [None, "Do not string this bow: braced 9 5/16 in high it already gives way"]
)
def test_a_height_at_which_the_wood_gives_way_is_not_offered(wrong):
    found = StringingOn(
        wanted=strung(0.152),
        heights=(strung(0.1), strung(0.2365)),
        too_low=None,
        too_high=wrong,
        cautions=(),
    )
    screen = Console(width=80, markup=False, emoji=False, file=io.StringIO())
    screen.print(stringing_tables(found, IMPERIAL))
    said = " ".join(screen.file.getvalue().split())
    # nobody asked for that height: the bow may be strung
    assert "Do not string" not in said
    assert ("Higher: braced 9 5/16 in high" in said) == (wrong is not None)
    assert ("to 9 5/16 in." in said) == (wrong is None)
    assert ("at 9 5/16 in it is at its limit: stay well below." in said) == (wrong is not None)
