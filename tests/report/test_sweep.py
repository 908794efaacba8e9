"""Sweeps as table, CSV and picture data."""

import csv
import io
import itertools

import numpy as np
import pytest
from rich.console import Console

from limbfe.report.sweep import sweep_picture, sweep_tables, write_csv
from limbfe.studies.sweep.zone import Axis, Sweep
from limbfe.units import IMPERIAL, METRIC
from limbfe.view.study.sweep import draw_sweep

from ..invented_sweep import point


@pytest.fixture
def one(invented_sweep):
    return invented_sweep


@pytest.fixture
def two():
    axes = (Axis(name="diameter", values=(0.004, 0.008)), Axis(name="draw", values=(0.6, 0.7)))
    found = ((0.5, "sound"), (0.6, "sound"), (0.9, "watch"), (0.0, None))
    places = itertools.product(*(axis.values for axis in axes))
    return Sweep(
        title="stave",
        name="A",
        kind="knot",
        limb="lower",
        at=0.5,
        axes=axes,
        own=(0.004, 0.7112),
        points=tuple(point(p, *f) for p, f in zip(places, found, strict=True)),
    )


def text(sweep, units):
    console = Console(width=120, record=True, file=io.StringIO())
    console.print(sweep_tables(sweep, units))
    return console.export_text()


def test_csv_holds_every_point_and_why_one_is_missing(two, tmp_path):
    text = write_csv(two, tmp_path / "sweep.csv").read_text()
    rows = list(csv.DictReader(text.splitlines()))
    assert [float(row["diameter_mm"]) for row in rows] == [4.0, 4.0, 8.0, 8.0]
    assert float(rows[2]["strength_used_high"]) == pytest.approx(1.17)
    assert rows[3]["strength_used"] == ""
    assert rows[3]["not_judged"] == "no wood is left beside it"


def test_tables_in_the_readers_units(one, two):
    assert "8.0 mm" in text(one, METRIC)
    assert "5/16 in" in text(one, IMPERIAL)
    grid = text(two, METRIC)
    assert "diameter down, draw to the right" in grid
    assert "not judged: no wood" in grid


def test_the_picture_s_lines_run_along_the_first_axis(two):
    picture = sweep_picture(two)
    assert picture.family == "draw"
    assert [line.value for line in picture.lines] == [0.6, 0.7]
    assert picture.lines[0].typical == pytest.approx([0.5, 0.9])
    assert picture.lines[1].typical[0] == pytest.approx(0.6)
    assert np.isnan(picture.lines[1].typical[1])
    assert picture.lines[1].verdicts == ("sound", "")


@pytest.mark.parametrize("which", ["one", "two"])
def test_the_picture_says_what_it_shows(which, request):
    picture = sweep_picture(request.getfixturevalue(which))
    (axes,) = draw_sweep(picture, units="imperial").axes
    assert axes.get_xlabel() == "knot's diameter, in"
    assert "strength used to break" in axes.get_ylabel()
    assert axes.get_ylim()[0] == 0.0
    assert axes.get_ylim()[1] > 1.0
