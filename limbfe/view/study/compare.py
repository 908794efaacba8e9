"""Several bows on one page: their limbs, and who is ahead in what."""

from __future__ import annotations

import os
import textwrap
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.view import theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH = 16.0
ROW = 0.235
"""Height of one bow's bar, inches."""
DOWN, ACROSS = 4, 3
LINES = 7
"""Of text above the picture."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PictureBow:
    """One bow and its upper limb from the grip's middle to the nock, ndarrays of shape (n,), m."""

    number: int
    title: str
    x: Array
    width: Array
    thickness: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Panel:
    """One figure of all bows.

    Attributes
    ----------
    title : str
        With its unit.
    values : ndarray, shape (n,)
        In the order of the bows.
    digits : int
        Decimals shown.
    low_is_better : bool
    best : tuple of int
        Numbers of the bows to mark.
    """

    title: str
    values: Array
    digits: int
    low_is_better: bool
    best: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ComparePicture:
    """What the picture shows; at most `DOWN` times `ACROSS` panels."""

    title: str
    text: tuple[str, ...]
    bows: tuple[PictureBow, ...]
    panels: tuple[Panel, ...]


def draw_comparison(picture: ComparePicture) -> Figure:
    """Return the limbs' silhouettes on the left and one small ranking for every figure.

    The bows' numbers stand on the left of their dots, the best on top; filled dots are the best.
    """
    from matplotlib.gridspec import GridSpec

    count = len(picture.bows)
    lines = [line for text in picture.text for line in textwrap.wrap(text, 195)][:LINES]
    height = 1.2 + 0.21 * len(lines) + DOWN * (0.75 + ROW * max(count, 4))
    with theme.typography():
        figure = theme.new_figure(WIDTH, height)
        figure.text(0.012, 1.0 - 0.16 / height, picture.title, va="top", fontsize=16, weight="bold")
        figure.text(
            0.012, 1.0 - 0.52 / height, "\n".join(lines), va="top", fontsize=10.5, linespacing=1.4
        )  # fmt: skip
        top = 1.0 - (0.95 + 0.21 * len(lines)) / height
        grid = GridSpec(
            DOWN, ACROSS + 1, figure=figure, left=0.012, right=0.985, bottom=0.25 / height, top=top,
            width_ratios=[1.35, *[1.0] * ACROSS], wspace=0.2, hspace=0.62 / (ROW * max(count, 4)),
        )  # fmt: skip
        _draw_limbs(figure.add_subplot(grid[:, 0]), picture.bows)
        for k, panel in enumerate(picture.panels):
            axes = figure.add_subplot(grid[k // ACROSS, 1 + k % ACROSS])
            _draw_panel(axes, panel, picture.bows)
    return figure


def write_comparison(picture: ComparePicture, path: str | os.PathLike[str]) -> Path:
    """Write `draw_comparison` as PNG and return the path."""
    return theme.save_figure(draw_comparison(picture), path)


def standing(panel: Panel) -> NDArray[np.intp]:
    """Return the order in which a panel shows the bows, the best first, shape (n,)."""
    values = panel.values if panel.low_is_better else -panel.values
    return np.argsort(values, kind="stable")


def _draw_limbs(axes: Axes, bows: tuple[PictureBow, ...]) -> None:
    """Draw every upper limb from the back and from the side, one below the other."""
    length = max(float(bow.x[-1]) for bow in bows)
    tall = max(float(bow.width.max() + bow.thickness.max()) for bow in bows)
    for place, bow in enumerate(bows):
        x, share = bow.x / length, 0.52 / tall
        half, deep = 0.5 * bow.width * share, bow.thickness * share
        middle = place + 0.24 + half.max()
        back = middle + half.max() + 0.06
        axes.fill_between(
            x, middle - half, middle + half, color=theme.WOOD_TONES[1], ec=theme.INK, lw=0.8
        )
        axes.fill_between(x, back, back + deep, color=theme.WOOD_TONES[0], ec=theme.INK, lw=0.8)
        axes.text(0.0, place + 0.16, f"{bow.number}", fontsize=12, weight="bold", va="bottom")
        title = textwrap.shorten(bow.title, 54, placeholder=" ...")
        axes.text(0.075, place + 0.16, title, fontsize=10.5, va="bottom")
    axes.set(xlim=(-0.005, 1.02), ylim=(len(bows), -0.1))
    axes.set_axis_off()
    axes.set_title("upper limb: back, and side below it", fontsize=11.5)
    axes.annotate(
        "widths and thicknesses enlarged; on the right\n"
        "the best on top, lines that do not begin at zero",
        xy=(0.0, 0.0), xycoords="axes fraction", va="bottom", fontsize=9.5, color=theme.FAINT,
    )  # fmt: skip


def _draw_panel(axes: Axes, panel: Panel, bows: tuple[PictureBow, ...]) -> None:
    """Draw one dot a bow, the best on top, on a scale as wide as the bows differ."""
    order = standing(panel)
    values = panel.values[order]
    low, high = float(values.min()), float(values.max())
    room = max(high - low, 0.02 * abs(high), 1e-12)
    left, right = low - 0.16 * room, high + 0.2 * room
    for place, (k, value) in enumerate(zip(order, values, strict=True)):
        number = bows[int(k)].number
        best = number in panel.best
        colour, weight = (theme.BACK, "bold") if best else (theme.INK, "normal")
        axes.plot([left, value], [place, place], color=theme.RULE, lw=1.4, solid_capstyle="butt")
        axes.plot(
            value, place, "o", ms=9.5 if best else 7.5, mew=1.6, mec=colour,
            mfc=colour if best else theme.PAPER,
        )  # fmt: skip
        axes.annotate(
            f"{number}", xy=(left, place), xytext=(-5, 0), textcoords="offset points",
            ha="right", va="center", fontsize=10.5, weight="bold", color=colour,
        )  # fmt: skip
        axes.annotate(
            f"{value:.{panel.digits}f}", xy=(value, place), xytext=(9, 0),
            textcoords="offset points", va="center", fontsize=10.5, weight=weight,
        )  # fmt: skip
    axes.set(xlim=(left, right), ylim=(len(bows) - 0.4, -0.6), xticks=[], yticks=[])
    axes.grid(visible=False)
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.set_title(panel.title, fontsize=11.5, x=-0.08)
