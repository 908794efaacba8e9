"""Back and belly laid flat, with lines of the largest knot that a bow bears."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from limbfe.log.layout.allowed import FACES, KnotMap
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


def draw_knot_map(
    found: KnotMap, title: str, draw_length: float, units: labels.Units = "metric"
) -> Figure:
    """Return a panel a state and face: filled what stays sound, lines of what does not break."""
    unit, sign = labels.length_unit(units)
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
                filled = _panel(rows[i, j], found, state, face, unit, LEVELS[units])
                rows[i, j].set_title(f"{state} knot, {face}", fontsize=11)
            rows[i, 0].set_ylabel(f"across, {sign}")
        for axes in rows[-1]:
            axes.set_xlabel(f"from the middle of the grip, {sign} (upper limb right)")
            axes.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
        place = figure.add_axes((0.92, 0.12, 0.015, 0.7))
        figure.colorbar(filled, cax=place, label=f"largest sound knot, {sign}")
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
    axes: Axes, found: KnotMap, state: str, face: str, unit: float, levels: tuple[float, ...]
) -> ContourSet:
    one = found.allowed[state, face]
    x = np.broadcast_to(found.s[:, None], one.sound.shape) / unit
    y = 0.5 * found.width[:, None] * found.share[None, :] / unit
    filled = axes.contourf(
        x, y, np.ma.masked_invalid(one.sound / unit), levels=levels, cmap="YlGnBu", extend="max"
    )
    # nothing is allowed at all: said by hatching, not by colour alone
    axes.contourf(
        x, y, np.ma.masked_invalid(one.sound / unit), levels=[-1.0, 0.02 * levels[-1]],
        colors="none", hatches=["////"],
    )  # fmt: skip
    lines = axes.contour(
        x, y, np.ma.masked_invalid(one.unbroken / unit), levels=levels[1:], colors=theme.INK,
        linewidths=0.9, linestyles="--",
    )  # fmt: skip
    axes.clabel(lines, fontsize=8, fmt="%g")
    for edge in (-0.5, 0.5):
        axes.plot(found.s / unit, edge * found.width / unit, color=theme.INK, lw=1.6)
    grip = np.isnan(one.sound[:, 0])
    if np.any(grip):
        low, high = found.s[grip][[0, -1]] / unit
        axes.axvspan(low, high, color=theme.RULE, lw=0)
        axes.text(0.5 * (low + high), 0.0, "grip", ha="center", va="center", fontsize=9)
    return filled
