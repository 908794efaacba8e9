"""Back and belly laid flat, with lines of the largest knot that a bow bears."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from limbfe.log.layout.allowed import FACES, KnotMap
from limbfe.units import ruler_inches
from limbfe.view import labels, theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.contour import ContourSet
    from matplotlib.figure import Figure

WIDTH, ROW = 15.0, 2.5
LEVELS: dict[labels.Units, tuple[float, ...]] = {
    "metric": (0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0),
    "imperial": (0.0, 1 / 16, 1 / 8, 3 / 16, 1 / 4, 5 / 16, 3 / 8, 1 / 2),
}

EDGE = 0.7
"""Share of half the width beyond which lines are not numbered."""


def draw_knot_map(
    found: KnotMap, title: str, draw_length: float, units: labels.Units = "metric"
) -> Figure:
    """Return a panel a state and face: filled what stays sound, lines of what does not break."""
    unit, sign = labels.length_unit(units)

    def size(value: float) -> str:
        """As a ruler shows it."""
        return ruler_inches(value * unit) if units == "imperial" else f"{value:g}"

    states = found.states
    with theme.typography():
        figure = theme.new_figure(WIDTH, 1.6 + ROW * len(states))
        rows = figure.subplots(len(states), 2, sharex=True, sharey=True, squeeze=False)
        figure.subplots_adjust(
            left=0.06, right=0.9, top=1.0 - 0.95 / figure.get_figheight(), bottom=0.09,
            hspace=0.25, wspace=0.05,
        )  # fmt: skip
        figure.text(
            0.015, 0.985, f"Largest knots this bow bears: {title}", va="top", fontsize=14,
            fontweight="bold",
        )  # fmt: skip
        figure.text(
            0.015, 1.0 - 0.42 / figure.get_figheight(),
            f"at a draw of {labels.length_text(draw_length, units)}; colours: up to what size a "
            "knot stays sound; dashed lines: up to what size it does not break (diameter across "
            f"the grain, {sign}); hatched: none",
            va="top",
        )  # fmt: skip
        for i, state in enumerate(states):
            for j, face in enumerate(FACES):
                filled = _panel(rows[i, j], found, state, face, (unit, size), LEVELS[units])
                rows[i, j].set_title(f"{state} knot, {face}", fontsize=11)
            rows[i, 0].set_ylabel(f"across, {sign}")
        for axes in rows[-1]:
            axes.set_xlabel(f"from the middle of the grip, {sign} (upper limb right)")
            axes.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
        place = figure.add_axes((0.92, 0.12, 0.015, 0.7))
        bar = figure.colorbar(filled, cax=place, label=f"largest sound knot, {sign}")
        bar.set_ticks(LEVELS[units], labels=[size(level) for level in LEVELS[units]])
    return figure


def write_knot_map(
    found: KnotMap,
    title: str,
    draw_length: float,
    path: str | os.PathLike[str],
    units: labels.Units = "metric",
) -> Path:
    """Write `draw_knot_map` as PNG and return the path."""
    return theme.save_figure(draw_knot_map(found, title, draw_length, units), path)


def _panel(
    axes: Axes,
    found: KnotMap,
    state: str,
    face: str,
    told: tuple[float, Callable[[float], str]],
    levels: tuple[float, ...],
) -> ContourSet:
    """Draw one panel; `told` is the unit (m) and what says a size in it."""
    unit, size = told
    one = found.allowed[state, face]
    x = np.broadcast_to(found.s[:, None], one.sound.shape) / unit
    y = 0.5 * found.width[:, None] * found.share[None, :] / unit
    filled = axes.contourf(
        x, y, np.ma.masked_invalid(one.sound / unit), levels=levels, cmap="YlGnBu", extend="max"
    )
    # nothing is allowed at all: said by hatching, not by colour alone; faint, for lines cross it
    none = axes.contourf(
        x, y, np.ma.masked_invalid(one.sound / unit), levels=[-1.0, 0.02 * levels[-1]],
        colors="none", hatches=["//"],
    )  # fmt: skip
    none.set_edgecolor(theme.FAINT)
    none.set_linewidth(0.0)
    lines = axes.contour(
        x, y, np.ma.masked_invalid(one.unbroken / unit), levels=levels[1:], colors=theme.INK,
        linewidths=0.9, linestyles="--",
    )  # fmt: skip
    for number in axes.clabel(lines, fontsize=8.5, fmt=size, inline=False):
        number.set_rotation(0.0)
        number.set_bbox({"facecolor": theme.PAPER, "edgecolor": "none", "pad": 0.8, "alpha": 0.85})
        # along the edge lines crowd; what they say there the colours say as well
        place = abs(float(np.interp(number.get_position()[0], found.s / unit, found.width / unit)))
        if abs(number.get_position()[1]) > EDGE * 0.5 * place:
            number.remove()
    for edge in (-0.5, 0.5):
        axes.plot(found.s / unit, edge * found.width / unit, color=theme.INK, lw=1.6)
    grip = np.isnan(one.sound[:, 0])
    if np.any(grip):
        low, high = found.s[grip][[0, -1]] / unit
        axes.axvspan(low, high, color=theme.RULE, lw=0)
        axes.text(0.5 * (low + high), 0.0, "grip", ha="center", va="center", fontsize=9)
    return filled
