"""The pattern measures right on paper: sizes and coordinates are read back from the PDF."""

import itertools
import re
from dataclasses import replace
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest

import limbfe
from limbfe.report.stave_pictures import stave_view
from limbfe.view.stave.pattern import ON_A_SHEET, SIDE_AT, draw_sheet, sheets, write_pattern

POINT = 25.4 / 72.0
"""mm; a point of PDF is a 72nd of an inch."""


@pytest.fixture(scope="module")
def view():
    staves = Path(__file__).parents[2] / "cases" / "staves"
    return stave_view(limbfe.lay(staves / "clear_half_log.toml", quick=True))


@pytest.mark.parametrize(
    ("units", "paper", "size", "length"),
    [("metric", "A4", (297.0, 210.0), 100.0), ("imperial", "letter", (279.4, 215.9), 101.6)],
)
def test_the_pattern_is_printed_at_its_size(units, paper, size, length, view, tmp_path):
    path = tmp_path / "pattern.pdf"
    with mpl.rc_context({"pdf.compression": 0}):
        write_pattern(view, path, units)
    text = path.read_bytes().decode("latin-1")
    boxes = re.findall(r"/MediaBox \[ *0 0 ([\d.]+) ([\d.]+) *\]", text)
    count = len(sheets(view, paper))
    assert len(boxes) == count
    for box in boxes:
        assert [float(v) * POINT for v in box] == pytest.approx(size, abs=0.05)
    strokes = re.findall(r"([\d.]+) ([\d.]+) m\s+([\d.]+) ([\d.]+) l\s", text)
    feet = [
        abs(float(x1) - float(x0)) * POINT
        for x0, y0, x1, y1 in strokes
        if y0 == y1 and abs(float(y0) * POINT - 8.0) < 0.02
    ]
    assert feet == pytest.approx([length] * count, abs=0.02), "the ruler, on every sheet"
    edge = [
        abs(float(x1) - float(x0)) * POINT
        for x0, y0, x1, y1 in strokes
        if y0 == y1 and abs(float(y0) * POINT - SIDE_AT) < 0.02 and float(x1) - float(x0) > 30.0
    ]
    assert edge == pytest.approx([ON_A_SHEET[paper]] * count, abs=0.02), "the back from the side"


def test_the_sheets_cover_the_bow_once(view):
    stretches = sheets(view, "A4")
    low, high = (1e3 * nock for nock in view.line.nocks)
    assert stretches[0][0] <= low
    assert stretches[-1][1] >= high
    for (_, end), (start, _) in itertools.pairwise(stretches):
        assert end == start


def test_rough_lines_end_where_the_sound_wood_does(view):
    """On every sheet of a stave too narrow, and half too thin, for its first rough out."""
    tight = replace(view, stages=(("rough out", 0.03, 0.05),))
    met = 0
    for stretch in sheets(tight, "A4"):
        axes = draw_sheet(tight, stretch, "A4", "log").axes[0]
        high, low = (line.get_ydata() for line in axes.lines if line.get_color() == "0.6")
        for line in axes.lines:
            y = np.asarray(line.get_ydata())
            if line.get_linewidth() == 0.9 and y.min() > SIDE_AT:
                assert np.all(y <= high + 1e-9)
                assert np.all(y >= low - 1e-9)
                met += int(np.any((y > high - 1e-9) | (y < low + 1e-9)))
    assert met > 0, "somewhere the stave is too narrow, or this shows nothing"
