"""Fibres of the close-up against the stream function of the flow they are taken from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.view.zone.fibres import shown_span, trace_fibres
from limbfe.view.zone.picture import draw_defect

from ... import invented_bow as given


@pytest.fixture(scope="module")
def view():
    return given.make_close_up()


@pytest.fixture(scope="module")
def panel(view):
    return view.panels[0]


def test_fibres_are_streamlines(view, panel):
    """Along a line of the flow past a circle Im(w + a^2/w) stays put.

    L. M. Milne-Thomson, Theoretical Hydrodynamics, flow past a circular cylinder (from memory).
    """
    lines = trace_fibres(panel, *shown_span(view))
    whole = np.isfinite(lines[..., 1]).all(axis=1)
    assert whole.sum() >= 20
    lines = lines[whole]
    w = (lines - [0.31, -0.004]) @ np.array([1.0, 1j])
    stream = (w + 0.0045**2 / w).imag
    start = stream[:, :1]
    # Lines that run into the knot's stagnation point end there; the others stay within a seventh
    # of their spacing, the grid's fault next to the knot.
    spacing = np.diff(lines[:, 0, 1])[0]
    assert np.abs(stream - start).max() < 0.15 * spacing
    away = np.abs(lines[:, 0, 1] + 0.004) > 0.003
    assert np.abs(stream[away] - start[away]).max() < 0.03 * spacing


def test_lines_stay_in_the_limb_and_out_of_the_knot(view, panel):
    lines = trace_fibres(panel, *shown_span(view))
    points = lines[np.isfinite(lines[..., 1])]
    right = np.interp(points[:, 0], panel.edge_x, panel.right_edge)
    assert np.all(np.abs(points[:, 1]) <= right + 1e-9)
    assert np.linalg.norm(points - [0.31, -0.004], axis=1).min() > 0.0042


def test_span_lies_in_the_strip(view, panel):
    low, high = shown_span(view)
    assert low >= 0.25
    assert high <= 0.37
    assert low < panel.zones[0].loop[:, 0].min() < panel.zones[0].loop[:, 0].max() < high


def test_one_panel_a_mode_with_its_window(view):
    figure = draw_defect(view, units="imperial")
    panels = figure.axes[:3]
    assert [axes.get_title(loc="left") for axes in panels] == [one.mode for one in view.panels]
    assert panels[2].get_title(loc="right") == "layer 5/32 in from mid-thickness towards the belly"
    numbers = [{t.get_text() for t in axes.texts} & {"0.74", "0.93"} for axes in panels]
    assert numbers == [{"0.74"}, {"0.93"}, set()]


def test_a_number_stands_clear_of_the_knot(view, panel):
    axes = draw_defect(view).axes[0]
    number = next(text for text in axes.texts if text.get_text() == "0.74")
    assert number.xy[0] >= 1e3 * panel.zones[0].loop[:, 0].max()


def test_a_hole_ends_the_fibres(view, panel):
    hole = replace(panel.zones[0], kind="decay", hole=True)
    open_zone = replace(panel, zones=(replace(hole, hole=False),))
    with_hole = replace(panel, zones=(hole,))
    low, high = shown_span(view)
    ended = np.isnan(trace_fibres(with_hole, low, high)[:, -1, 1]).sum()
    assert ended >= np.isnan(trace_fibres(open_zone, low, high)[:, -1, 1]).sum()
