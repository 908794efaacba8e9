"""Where a shaving changes what: bars along both limbs, one panel a question."""

from __future__ import annotations

import os
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.frames import Array
from limbfe.units import unit_system
from limbfe.view import labels, theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from limbfe.analysis.rates.shave import ShaveMap

WIDTH, HEIGHT = 13.0, 10.2
TITLE_WIDTH = 100
"""Letters of the heading."""
_BAR = 0.0095
"""Width of a bar as a share of the bow's length."""


def draw_shave(shaves: ShaveMap, *, units: labels.Units = "metric") -> Figure:
    """Return the limb from the side, and below it what a shaving at each station changes.

    Full bars are shavings off the belly, hatched ones off the width.
    """
    newton, force = labels.force_unit(units)
    unit, length = labels.length_unit(units)
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        rows = figure.subplots(4, 1, sharex=True, height_ratios=(0.55, 1.25, 1.25, 1.0))
        figure.subplots_adjust(left=0.08, right=0.985, top=0.86, bottom=0.075, hspace=0.34)
        _heading(figure, shaves, units)
        _side_view(rows[0], shaves, unit, length)
        x = shaves.x / unit
        _bars(
            rows[1], x, -shaves.belly.draw_weight / newton, -shaves.sides.draw_weight / newton,
            named="{:.1f}" if units == "metric" else "{:.2f}",
        )  # fmt: skip
        rows[1].set_title("Draw weight lost: the higher, the more weight comes off")
        rows[1].set_ylabel(force)
        now = shaves.worst.strength_used
        _bars(rows[2], x, 100 * (shaves.belly.worst - now), 100 * (shaves.sides.worst - now))
        rows[2].set_title(
            "How much harder the hardest worked wood is worked: below zero it is eased"
        )
        rows[2].set_ylabel("% of its strength")
        _bars(rows[3], x, shaves.belly.tiller_braced / unit, shaves.sides.tiller_braced / unit)
        rows[3].set_title("Tiller at brace: above zero the upper limb comes to stand further off")
        rows[3].set_ylabel(length)
        rows[3].set_xlabel(f"from the middle of the grip, {length}")
        rows[3].xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
        edge = 0.02 * float(np.ptp(x))
        rows[3].set_xlim(x[0] - edge, x[-1] + edge)
        for place, name in ((0.0, "lower limb"), (1.0, "upper limb")):
            rows[3].text(
                place, -0.33, name, transform=rows[3].transAxes, va="bottom", fontweight="bold",
                ha="left" if place == 0.0 else "right",
            )  # fmt: skip
        for axes in rows:
            _grip(axes, shaves, unit)
    return figure


def write_shave(shaves: ShaveMap, path: str | os.PathLike[str], **options: Any) -> Path:
    """Write `draw_shave` as PNG and return the path."""
    return theme.save_figure(draw_shave(shaves, **options), path)


def _heading(figure: Figure, shaves: ShaveMap, units: labels.Units) -> None:
    from matplotlib.patches import Patch

    worst = shaves.worst
    title = f"What a shaving changes: {shaves.title}"
    title = textwrap.shorten(title, TITLE_WIDTH, placeholder=" ...")
    figure.text(0.015, 0.985, title, va="top", fontsize=15, fontweight="bold")
    figure.text(
        0.015, 0.951,
        f"Draws {labels.force_text(shaves.draw_weight, units)} at "
        f"{labels.length_text(shaves.draw_length, units)}; clear wood is worked hardest "
        f"{labels.length_text(worst.at, units)} up the {worst.limb} limb, {worst.face}: "
        f"{worst.how_hard}",
        va="top",
    )  # fmt: skip
    belly = unit_system(units).shaving(shaves.belly.amount)
    sides = unit_system(units).shaving(shaves.sides.amount)
    keys = [
        Patch(facecolor=theme.BACK, label=f"{belly} off the belly at that station"),
        Patch(
            facecolor=theme.PAPER, edgecolor=theme.BELLY, hatch="////",
            label=f"{sides} off the width, half on each side",
        ),
    ]  # fmt: skip
    figure.legend(handles=keys, loc="upper left", bbox_to_anchor=(0.008, 0.932), ncols=2)


def _side_view(axes: Axes, shaves: ShaveMap, unit: float, length: str) -> None:
    x, thickness = shaves.x / unit, shaves.thickness / unit
    axes.fill_between(x, -thickness, 0.0, color=theme.WOOD_TONES[1], lw=0)
    axes.plot(x, -thickness, color=theme.INK, lw=1.4)
    axes.plot(x, np.zeros_like(x), color=theme.INK, lw=1.4)
    axes.vlines(x, -thickness, 0.0, color=theme.INK, lw=1.0)
    axes.set_title("Your stations, from the side: back above, belly below")
    axes.set(ylim=(-1.15 * thickness.max(), 0.15 * thickness.max()), ylabel=length)
    axes.yaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
    axes.grid(visible=False)


def _bars(axes: Axes, x: Array, belly: Array, sides: Array, named: str | None = None) -> None:
    bar = _BAR * float(np.ptp(x))
    axes.bar(x - 0.5 * bar, belly, width=bar, color=theme.BACK, lw=0, zorder=3)
    axes.bar(
        x + 0.5 * bar, sides, width=bar, facecolor=theme.PAPER, edgecolor=theme.BELLY,
        hatch="////", lw=1.0, zorder=3,
    )  # fmt: skip
    axes.axhline(0.0, color=theme.INK, lw=1.0)
    low, high = min(belly.min(), sides.min(), 0.0), max(belly.max(), sides.max(), 0.0)
    room = 0.14 * (high - low) if high > low else 1.0
    axes.set_ylim(low - (room if low < 0.0 else 0.0), high + room)
    if named is None:
        return
    for place, value in zip(x, belly, strict=True):
        if value > 0.04 * high:
            axes.annotate(
                named.format(value), xy=(place - 0.5 * bar, value), xytext=(0, 3),
                textcoords="offset points", ha="center", fontsize=9.5, color=theme.BACK,
            )  # fmt: skip


def _grip(axes: Axes, shaves: ShaveMap, unit: float) -> None:
    if shaves.stiff_length > 0.0:
        half = 0.5 * shaves.stiff_length / unit
        axes.axvspan(-half, half, color=theme.GRIP, alpha=0.12, lw=0, zorder=0)
