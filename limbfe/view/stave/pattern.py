"""The lines to saw at full size, on sheets that are laid in a row along the snapped line."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from limbfe.frames import Array
from limbfe.view import labels, theme
from limbfe.view.stave.view import StaveView
from limbfe.whole_file import whole_file

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Paper = Literal["A4", "letter"]
PAPERS: dict[Paper, tuple[float, float]] = {"A4": (297.0, 210.0), "letter": (279.4, 215.9)}
"""Width and height lying, mm."""
ON_A_SHEET: dict[Paper, float] = {"A4": 250.0, "letter": 228.6}
"""Length of stave on a sheet, mm; 9 in on letter."""
MARGIN, BACK_AT, SIDE_AT = 12.0, 128.0, 58.0
"""Left margin, and heights of the snapped line and of the back's edge in the side view, mm."""
INCH = 25.4


def sheets(view: StaveView, paper: Paper) -> list[tuple[float, float]]:
    """Return the stretch of stave on every sheet, mm from the butt, both ends."""
    low, high = (1e3 * nock for nock in view.line.nocks)
    step = ON_A_SHEET[paper]
    first = np.floor(low / step)
    count = int(np.ceil(high / step) - first)
    return [(step * (first + k), step * (first + k + 1)) for k in range(count)]


def write_pattern(view: StaveView, path: str | os.PathLike[str], units: labels.Units) -> Path:
    """Write the pattern as PDF at 1:1, on A4 or, for inches, on letter; return the path."""
    from matplotlib.backends.backend_pdf import PdfPages

    paper: Paper = "letter" if units == "imperial" else "A4"
    stretches = sheets(view, paper)
    with theme.typography(), whole_file(path) as partial, PdfPages(partial) as pages:
        for k, stretch in enumerate(stretches):
            name = f"{view.title}: sheet {k + 1} of {len(stretches)}"
            figure = draw_sheet(view, stretch, paper, name)
            pages.savefig(figure)
    return Path(path)


def draw_sheet(view: StaveView, stretch: tuple[float, float], paper: Paper, name: str) -> Figure:
    """Return one sheet, a millimetre of it a millimetre on paper."""
    wide, high = PAPERS[paper]
    figure = theme.new_figure(wide / INCH, high / INCH)
    figure.set_facecolor("white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, wide), ylim=(0.0, high))
    axes.axis("off")
    left = MARGIN + 0.5 * (wide - 2.0 * MARGIN - ON_A_SHEET[paper])
    _lines(axes, view, stretch, left)
    _knots(axes, view, stretch, left)
    for station, way in zip(stretch, ("left", "right"), strict=True):
        x = left + station - stretch[0]
        for y in (BACK_AT, SIDE_AT):
            axes.plot([x - 4.0, x + 4.0], [y, y], color="black", lw=0.5)
            axes.plot([x, x], [y - 4.0, y + 4.0], color="black", lw=0.5)
        beside = 1.0 if way == "left" else -1.0
        axes.text(x + beside, BACK_AT + 52.0, _station(station, paper), fontsize=8, ha=way)
        axes.plot([x, x], [BACK_AT + 48.0, BACK_AT + 56.0], color="black", lw=0.5)
    axes.text(left, high - 9.0, name, fontsize=9)
    axes.text(left, high - 14.0, "print at 100 %; crosses of one sheet on those of the next; "
              "back above (left of the stave up), side below (back up)", fontsize=7)  # fmt: skip
    ruler(axes, left, 8.0, paper)
    return figure


def _station(station: float, paper: Paper) -> str:
    if paper == "letter":
        return f"{station / INCH:g} in from the butt"
    return f"{station:g} mm from the butt"


def ruler(axes: Axes, x: float, y: float, paper: Paper) -> None:
    """Draw the line to be measured: 100 mm, or 4 in."""
    length, words = (100.0, "100 mm") if paper == "A4" else (4.0 * INCH, "4 in")
    axes.plot([x, x + length], [y, y], color="black", lw=0.8)
    for k in range(11 if paper == "A4" else 5):
        at = x + length * k / (10 if paper == "A4" else 4)
        axes.plot([at, at], [y, y + 3.0], color="black", lw=0.5)
    axes.text(x + length + 3.0, y, f"measure this: {words}", fontsize=8)


def _lines(axes: Axes, view: StaveView, stretch: tuple[float, float], left: float) -> None:
    laid = view.laid
    order = np.argsort(laid.x)
    low, high = max(stretch[0], 1e3 * laid.x.min()), min(stretch[1], 1e3 * laid.x.max())
    at = np.linspace(low, high, 301)

    def column(values: Array) -> Array:
        return np.interp(at, 1e3 * laid.x[order], 1e3 * values[order])

    x = left + at - stretch[0]
    along = [left, left + stretch[1] - stretch[0]]
    axes.plot(along, [BACK_AT] * 2, color="0.5", lw=0.4, ls="--")
    axes.plot(along, [SIDE_AT] * 2, color="black", lw=0.8)
    offset, half = column(laid.offset), column(0.5 * laid.width)
    half = half * np.hypot(1.0, view.line.offset_at(1e-3 * at, 1))
    thick = column(laid.thickness)
    sides = [1e3 * edge for edge in view.log.edges(1e-3 * at)]
    depth = 1e3 * view.log.at("depth", 1e-3 * at)
    for sound in sides:
        axes.plot(x, BACK_AT - sound, color="0.6", lw=1.6)
    axes.plot(x, BACK_AT - offset, color="black", lw=0.6, ls="-.")
    for name, side, belly, style in [("finished", 0.0, 0.0, "-"), *_styled(view)]:
        rough = half + 1e3 * side
        for way in (-1.0, 1.0):
            # where the stave is too narrow its own edge is the line, as in table and picture
            edge = np.clip(offset + way * rough, *sides)
            axes.plot(x, BACK_AT - edge, color="black", lw=0.9, ls=style)
            if way < 0.0:
                _name(axes, x, BACK_AT - edge, name)
        down = SIDE_AT - np.minimum(thick + 1e3 * belly, depth)
        axes.plot(x, down, color="black", lw=0.9, ls=style)
        _name(axes, x, down, name)
    _name(axes, x, BACK_AT - sides[0], "edge of the sound wood")
    _name(axes, x, BACK_AT - offset, "centre line")
    for y, words in ((BACK_AT, "snapped line"), (SIDE_AT, "back")):
        # further in than the others, which may lie close to it, and clear of the crosses
        _name(axes, x, np.full(x.shape, y), words, 60.0)
    _across(axes, view, stretch, left)


def _name(axes: Axes, x: Array, y: Array, words: str, inwards: float = 6.0) -> None:
    """Write the name of a line into it, so many mm from its left end."""
    k = min(int(np.searchsorted(x, x[0] + inwards)), len(x) - 1)
    white = {"facecolor": "white", "edgecolor": "none", "pad": 0.6}
    axes.text(x[k], y[k], words, fontsize=6, va="center", bbox=white)


def _across(axes: Axes, view: StaveView, stretch: tuple[float, float], left: float) -> None:
    """Draw where the stave is sawn off, and the middle of the grip."""
    low, high = view.line.nocks
    for at, words in ((low, "nock"), (view.line.grip, "grip"), (high, "nock")):
        if stretch[0] <= 1e3 * at < stretch[1]:
            x = left + 1e3 * at - stretch[0]
            y = BACK_AT - 1e3 * float(view.line.offset_at(at))
            axes.plot([x, x], [y - 24.0, y + 24.0], color="black", lw=0.6)
            axes.text(x + 0.8, y - 24.0, words, fontsize=7)


def _knots(axes: Axes, view: StaveView, stretch: tuple[float, float], left: float) -> None:
    """Draw the knots of the back, by which the sheet is laid on the stave."""
    from matplotlib.patches import Ellipse

    for mark in view.log.marks:
        x = left + 1e3 * mark.x - stretch[0]
        if mark.face == "back" and stretch[0] <= 1e3 * mark.x < stretch[1]:
            y, size = BACK_AT - 1e3 * mark.across, 1e3 * mark.diameter
            shape = Ellipse((x, y), size / np.cos(mark.lean), size, fill=False, lw=0.7, ls=":")
            axes.add_patch(shape)
            axes.text(x, y, mark.name, fontsize=6, ha="center", va="center")


def _styled(view: StaveView) -> list[tuple[str, float, float, str]]:
    return [(*stage, style) for stage, style in zip(view.stages, ("--", ":", "-."), strict=False)]
