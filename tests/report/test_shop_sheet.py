"""The shop sheet: stations, knots and cautions on one page."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.report.shop_sheet import MOST_CAUTIONS, MOST_STATIONS, shop_sheet
from limbfe.stave.reshape import with_more_stations
from limbfe.units import IMPERIAL, METRIC


def test_it_holds_what_is_measured_at_the_bench(assessment):
    sheet = shop_sheet(assessment, IMPERIAL)
    assert sheet["unit"] == "in"
    assert sheet["weight"].endswith("lbf")
    rows = sheet["stations"]
    assert len(rows) == len(assessment.setup.stave.x)
    assert rows[0]["at"].startswith("upper")
    assert rows[-1]["at"].startswith("lower")
    for row in rows:
        # as a ruler shows it
        assert "." not in row["width"] + row["thickness"]
        assert row["back"].endswith("%")
    assert sheet["zones"][0]["verdict"] == "expect rupture"
    assert "Eye protection" in sheet["cautions"][-1]


def test_a_zone_that_fails_at_brace_fails_when_strung(assessment):
    braced = float(assessment.drawn.curve.draw_length[0])
    judged = tuple(
        replace(
            one, result=replace(one.result, draw_length_at_split=braced, split_course="runs along")
        )
        for one in assessment.judged
    )
    zones = shop_sheet(replace(assessment, judged=judged), METRIC)["zones"]
    assert all(zone["fails"] == "already when strung" for zone in zones)


def test_a_split_that_stays_short_is_no_failure(assessment):
    judged = tuple(
        replace(
            one,
            result=replace(
                one.result,
                draw_length_at_split=0.5,
                draw_length_at_rupture=rupture,
                split_course="stays short",
            ),
        )
        for one in assessment.judged
        for rupture in (None, 0.6)
    )
    zones = shop_sheet(replace(assessment, judged=judged), METRIC)["zones"]
    assert {zone["fails"] for zone in zones} == {"no; hairline at 500 mm", "at 600 mm"}


def test_many_stations_and_cautions_are_thinned_to_one_page(assessment):
    setup = assessment.setup
    stave = with_more_stations(setup.stave, np.linspace(-0.8, 0.8, 60))
    drawn = replace(
        assessment.drawn,
        setup=replace(setup, stave=stave),
        cautions=tuple(f"caution {k}" for k in range(12)),
    )
    sheet = shop_sheet(replace(assessment, drawn=drawn), METRIC)
    assert len(sheet["stations"]) <= MOST_STATIONS
    assert len(sheet["cautions"]) == MOST_CAUTIONS + 2
    assert "7 more" in sheet["cautions"][-2]
    tips = (sheet["stations"][0]["at"], sheet["stations"][-1]["at"])
    assert tips == (
        f"upper {METRIC.number('length', stave.x[-1])}",
        f"lower {METRIC.number('length', -stave.x[0])}",
    )


@pytest.mark.parametrize("units", [METRIC, IMPERIAL])
def test_no_unit_but_the_reader_s(assessment, units):
    other = "in" if units is METRIC else "mm"
    said = " ".join(str(row) for row in shop_sheet(assessment, units)["stations"])
    assert f" {other}" not in said
