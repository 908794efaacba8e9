"""Headings and words of the terminal's tables."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

from limbfe.analysis.bow.drawn import DrawCurve
from limbfe.analysis.bow.setup import adjust
from limbfe.failure.verdict import HAIRLINE
from limbfe.report.size import shaving_words, thickness_words
from limbfe.report.tables import (
    band_words,
    defect_table,
    draw_length_words,
    smoothness_words,
    strain_words,
    strung_length,
    tiller_table,
)
from limbfe.report.woods import bending_table, species_table, wood_table
from limbfe.studies.bending_test import bending_checks
from limbfe.units import IMPERIAL, METRIC


def printed(table):
    console = Console(width=160, markup=False, emoji=False, file=io.StringIO())
    console.print(table)
    return console.file.getvalue()


@pytest.mark.parametrize(
    ("mode", "used", "words"),
    [
        ("tension", 0.491, "49% of its tension strength"),
        ("across", 0.024, "2% of its strength across the grain"),
        ("compression", 0.84, "84% of what it can bear"),
        ("compression", 0.97, "97% of what it can bear, where wrinkles (frets) may show"),
        (
            "compression",
            1.24,
            "124% of what it can bear, where wrinkles (frets) are likely",
        ),
    ],
)
def test_how_hard_wood_is_worked(named_badly, mode, used, words):
    spot = replace(named_badly.hot_spots[0], mode=mode, strength_used=used)
    assert spot.how_hard == words


@pytest.mark.parametrize(("hold", "shown"), [("hand", False), ("clamp", True), ("tiller", True)])
def test_balance_is_shown_where_it_can_be_other_than_nothing(named_badly, hold, shown):
    bow = replace(named_badly.drawn, setup=adjust(named_badly.setup, holding={"kind": hold}))
    assert (
        "the pull is taken where" in " ".join(printed(tiller_table(bow, METRIC)).split())
    ) is shown


def test_words_of_cells(named_badly):
    zone = replace(
        named_badly.zones[0], strength_used=0.884, strength_used_low=0.881,
        strength_used_high=0.8849,
    )  # fmt: skip
    assert band_words(zone) == "88%"
    assert band_words(replace(zone, strength_used_high=0.9)) == "88% (88% to 90%)"
    assert strain_words(-0.00004) == "0.00%"
    assert strain_words(-0.0119) == "-1.19%"
    assert draw_length_words(0.184, METRIC, 0.184) == "already when strung"
    assert draw_length_words(0.6934, IMPERIAL, 0.184) == "27 5/16 in"
    assert draw_length_words(None, METRIC, 0.184) == "beyond this draw"
    drawn = named_badly.drawn
    braced = (drawn.curve.draw_length[0], drawn.first_pull.curve.draw_length[0])
    assert strung_length(drawn) == max(braced) > 0.0


def test_a_hairline_is_called_harmless_below_the_table_not_in_a_narrow_column(named_badly):
    zone = replace(named_badly.zones[0], mode=HAIRLINE)
    console = Console(width=80, markup=False, emoji=False, file=io.StringIO())
    console.print(defect_table((zone,), METRIC))
    said = " ".join(console.file.getvalue().split())
    assert f"knot {zone.name}: {HAIRLINE}" in said
    assert said.count("harmless") == 1


def test_a_shaving_is_read_off_a_calliper_or_a_rule():
    # 1/16 in is 1.5875 mm, exactly.
    assert shaving_words(1.5875e-3, IMPERIAL) == "1/16"
    assert shaving_words(0.999 * 1.5875e-3, IMPERIAL) == "3/64"
    assert shaving_words(1.5875e-3, METRIC) == "1.5"
    assert thickness_words(0.5 * 0.0254, IMPERIAL) == "1/2"
    assert thickness_words(0.0127, METRIC) == "12.7"


def test_woods_in_either_units():
    """European ash dry: 116 MPa in bending is 16 824 psi, 11.9 GPa is 1.726 million psi."""
    assert "16824" in printed(species_table(IMPERIAL))
    assert "1.726 Mpsi" in printed(wood_table("European ash", IMPERIAL))
    assert "11.9 GPa" in printed(wood_table("European ash", METRIC))
    checks = bending_checks("European ash")
    inches = printed(bending_table(checks, IMPERIAL))
    assert "2 x 2 in over 28 in" in inches
    assert "16824" in inches


@pytest.mark.parametrize(
    ("power", "added", "said"),
    [
        (0.5, "6.5%", "it draws smoothly to its end"),
        (1.0, "12.5%", "would add 12.5%."),
        (2.0, "23.4%", "it stacks"),
    ],
)
def test_smoothness_is_what_the_end_of_the_draw_adds(assessment, power, added, said):
    """A pull that grows with a power p of the draw since brace gains 1 - (7/8)^p in the end."""
    travel = np.linspace(0.0, 0.4, 4001)
    force = 200.0 * (travel / 0.4) ** power
    curve = DrawCurve(
        draw_length=0.2 + travel, travel=travel, force=force,
        tension=np.stack([force, force], axis=1), energy=force * travel,
    )  # fmt: skip
    words = smoothness_words(replace(assessment.drawn, curve=curve), METRIC)
    assert "(50 mm)" in words
    assert f"{added} of the draw weight" in words
    assert said in words
