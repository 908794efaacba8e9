"""Rules of thumb against many bows: the claim as a band, every bow as a line."""

from __future__ import annotations

import os
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from limbfe.frames import Array
from limbfe.view import theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLUMNS = 3
PANEL_WIDTH, PANEL_HEIGHT = 5.6, 4.3
"""Of one panel among several, inches."""
HOLDS, FAILS = theme.DECAY, theme.BACK


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RulePanel:
    """What the picture of one rule shows.

    Attributes
    ----------
    words, verdict : str
    good : bool
        Whether the rule holds, exactly or within so much.
    varied : str
    values : tuple of str, length k
    own : int
        Index of the value the rule speaks of.
    measured : str
    samples : ndarray, shape (bows, k)
        nan where a bow could not be tried.
    low, high : float
        The claim, in the unit of `samples`; infinite where there is no bound.
    """

    words: str
    verdict: str
    good: bool
    varied: str
    values: tuple[str, ...]
    own: int
    measured: str
    samples: Array
    low: float
    high: float


def draw_panels(panels: Sequence[RulePanel], *, bows: int) -> Figure:
    """Return the panels side by side, or one alone."""
    columns = min(COLUMNS, len(panels))
    rows = -(-len(panels) // columns)
    alone = len(panels) == 1
    width = 8.6 if alone else PANEL_WIDTH * columns
    height = 6.0 if alone else PANEL_HEIGHT * rows + 0.6
    with theme.typography():
        figure = theme.new_figure(width, height)
        figure.set_layout_engine("constrained", w_pad=0.12, h_pad=0.12)
        grid = figure.subplots(rows, columns, squeeze=False)
        for axes, panel in zip(grid.flat, panels, strict=False):
            draw_panel(axes, panel, wrap=74 if alone else 50)
        for axes in grid.flat[len(panels) :]:
            axes.set_axis_off()
        figure.supxlabel(textwrap.fill(_key(bows), 105 if alone else 200), fontsize=9.5)
    return figure


def write_panels(panels: Sequence[RulePanel], path: str | os.PathLike[str], *, bows: int) -> Path:
    """Write `draw_panels` as PNG and return the path."""
    return theme.save_figure(draw_panels(panels, bows=bows), path)


def draw_panel(axes: Axes, panel: RulePanel, *, wrap: int) -> None:
    """Draw one rule: the claim, every bow, the middle bow and 90 of 100 bows."""
    places = np.arange(len(panel.values), dtype=np.float64)
    low, high = value_limits(panel)
    axes.axhspan(max(panel.low, low), min(panel.high, high), color=HOLDS, alpha=0.16, lw=0)
    for bound in (panel.low, panel.high):
        if np.isfinite(bound):
            axes.axhline(bound, color=HOLDS, lw=1.4)
    axes.axvline(panel.own, color=theme.RULE, lw=16, zorder=0.5)
    axes.plot(places, panel.samples.T, color=theme.FAINT, lw=0.7, alpha=0.55, marker="o", ms=2.5)
    for place, column in zip(places, panel.samples.T, strict=True):
        found = column[np.isfinite(column)]
        if found.size:
            edges = np.percentile(found, [5.0, 95.0])
            axes.plot([place, place], edges, color=theme.INK, lw=2.2, solid_capstyle="butt")
            axes.plot(place, np.median(found), "o", ms=7.5, mfc=theme.PAPER, mec=theme.INK, mew=2.0)
    axes.set(
        xlim=(-0.4, places[-1] + 0.4),
        ylim=(low, high),
        xticks=places,
        xticklabels=panel.values,
        xlabel=panel.varied,
        ylabel=textwrap.fill(panel.measured, 34),
    )
    axes.grid(visible=False, axis="x")
    axes.set_title(
        textwrap.fill(panel.words, wrap), fontsize=11.0, loc="left", color=theme.INK, pad=24.0
    )
    axes.annotate(
        panel.verdict, xy=(0.0, 1.0), xycoords="axes fraction", xytext=(0, 6),
        textcoords="offset points", va="bottom", fontsize=12.0, fontweight="bold",
        color=HOLDS if panel.good else FAILS,
    )  # fmt: skip


def value_limits(panel: RulePanel) -> tuple[float, float]:
    """Return the ends of the vertical axis: all bows and the finite bounds of the claim."""
    bounds = [bound for bound in (panel.low, panel.high) if np.isfinite(bound)]
    values = np.concatenate([panel.samples[np.isfinite(panel.samples)], bounds])
    low, high = float(values.min()), float(values.max())
    margin = 0.06 * (high - low) or 1.0
    return low - margin, high + margin


def _key(bows: int) -> str:
    few = " (a first look)" if bows < 30 else ""
    return (
        f"Green: the rule's claim.  Thin lines: {bows} bows{few}.  Ring: the middle bow, bar: 90 "
        "of 100.  Shaded column: the value the rule speaks of."
    )
