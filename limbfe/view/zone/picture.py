"""A knot or patch close up: the fibres round it, and how hard each mode of failure is worked."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from limbfe.frames import Array
from limbfe.view import labels, theme
from limbfe.view.bow.faces import name_sides
from limbfe.view.zone.fibres import shown_span, trace_fibres

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from limbfe.analysis.zones.close_up import Bent, CloseUp, Panel, Window, ZoneRim

WIDTH = 8.6
WORD_HEIGHT = 0.2
"""Room above and below the limb for the names of its sides (inches)."""
BENT_HEIGHT = 0.75
"""Of the picture of the bent limb (inches)."""
BENT_TIMES = (1, 2, 3, 4, 5, 10, 20, 50)
BENT_RISE = 0.09
"""Part of the stretch shown that it may rise by."""
SIDES = {"flat": ("archer's right", "archer's left"), "side": ("back", "belly")}


def draw_defect(view: CloseUp, *, units: labels.Units = "metric") -> Figure:
    """Return the close-up: one panel a mode, fibres as lines, windows outlined and numbered."""
    low, high = shown_span(view)
    unit, sign = labels.length_unit(units)
    floor, top = _shown_width(view, low, high)
    count = len(view.panels)
    margin = max(0.13 * (top - floor), WORD_HEIGHT * (high - low) / (0.885 * WIDTH))
    inches = 0.885 * WIDTH * (top - floor + 2.0 * margin) / (high - low)
    panel = float(np.clip(inches, 1.2, 3.4))
    bent = 0.0 if view.bent is None else BENT_HEIGHT + 0.62
    height = count * (panel + 0.42) + 1.65 + bent
    with theme.typography():
        figure = theme.new_figure(WIDTH, height)
        panels = figure.subplots(count, 1, sharex=True, squeeze=False)[:, 0]
        figure.subplots_adjust(
            left=0.1, right=0.985, top=1 - 0.85 / height, bottom=(1.15 + bent) / height,
            hspace=0.42 / panel,
        )  # fmt: skip
        _add_heading(figure, view, height)
        for axes, one in zip(panels, view.panels, strict=True):
            _fill(axes, one, unit)
            _add_fibres(axes, trace_fibres(one, low, high), unit)
            _add_zones(axes, one.zones, unit)
            _add_splits(axes, one, unit)
            if one.window is not None:
                _add_window(axes, one, one.window, unit)
            axes.set(
                xlim=(low / unit, high / unit),
                ylim=((floor - margin) / unit, (top + margin) / unit),
                ylabel=sign,
            )
            axes.set_aspect("equal")
            axes.set_title(one.mode, pad=5)
            axes.set_title(height_text(view.plane, one.height, units), pad=5, loc="right",
                           fontsize=10, fontweight="normal", color=theme.FAINT)  # fmt: skip
            axes.yaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
            axes.grid(visible=False)
            name_sides(axes, SIDES[view.plane])
        panels[-1].xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
        panels[-1].set_xlabel(f"along the limb from the middle of the grip, {sign}")
        if view.bent is not None:
            shape = figure.add_axes((0.1, 1.05 / height, 0.885, BENT_HEIGHT / height))
            _add_bent(shape, view, view.bent, (low, high), unit)
        place = (0.2, 0.42 / height, 0.6, 0.13 / height)
        bar = theme.add_colour_bar(figure, "strength_used", (), place, units)
        bar.ax.xaxis.label.set_fontsize(10)
    return figure


def height_text(plane: Literal["flat", "side"], height: float, units: labels.Units) -> str:
    """Return where in the limb a layer lies."""
    middle, (below, above) = (
        ("mid-thickness", ("belly", "back"))
        if plane == "flat"
        else ("mid-width", ("archer's left", "archer's right"))
    )
    side = above if height > 0.0 else below
    return f"layer {labels.length_text(abs(height), units)} from {middle} towards the {side}"


def _add_heading(figure: Figure, view: CloseUp, height: float) -> None:
    figure.text(0.015, 1 - 0.12 / height, view.title, va="top", fontsize=14, fontweight="bold")
    told = "box: the wood that decides, and its strength used"
    if any(panel.splits for panel in view.panels):
        told += "\nwhite line: the split; dashed: where it would run"
    figure.text(
        0.985, 1 - 0.16 / height, told,
        va="top", ha="right", fontsize=10, color=theme.FAINT,
    )  # fmt: skip


def _shown_width(view: CloseUp, low: float, high: float) -> tuple[float, float]:
    """Return the lowest and the highest place of the limb's edges in the stretch shown."""
    floor, top = np.inf, -np.inf
    for panel in view.panels:
        between = (panel.edge_x >= low) & (panel.edge_x <= high)
        floor = min(floor, float(panel.left_edge[between].min()))
        top = max(top, float(panel.right_edge[between].max()))
    return floor, top


def write_defect(view: CloseUp, path: str | os.PathLike[str], **options: Any) -> Path:
    """Write `draw_defect` as PNG and return the path."""
    return theme.save_figure(draw_defect(view, **options), path)


def _fill(axes: Axes, panel: Panel, unit: float) -> None:
    from matplotlib.tri import Triangulation

    x, y = (panel.points / unit).T
    mesh = Triangulation(x, y, panel.triangles)
    colours = theme.colour_map("strength_used")
    axes.tricontourf(mesh, panel.used, theme.USED_STEPS, cmap=colours, extend="max")
    if np.nanmax(panel.used) > 1.0:
        past = axes.tricontourf(mesh, panel.used, [1.0, np.inf], colors="none", hatches=["///"])
        theme.hatch(past)
    for edge in (panel.left_edge, panel.right_edge):
        axes.plot(panel.edge_x / unit, edge / unit, color=theme.INK, lw=1.6)


def _add_fibres(axes: Axes, lines: Array, unit: float) -> None:
    from matplotlib.collections import LineCollection

    axes.add_collection(
        LineCollection(list(lines / unit), colors=theme.INK, linewidths=0.7, alpha=0.5)
    )


def _add_zones(axes: Axes, zones: tuple[ZoneRim, ...], unit: float) -> None:
    for zone in zones:
        colour = theme.KNOT if zone.kind == "knot" else theme.DECAY
        loop = np.concatenate([zone.loop, zone.loop[:1]]) / unit
        if zone.hole:
            axes.fill(*loop.T, color=theme.PAPER)
        style: Any = "-" if zone.kind == "knot" else (0, (4, 2))
        if zone.beyond:
            style = ":"
        axes.plot(*loop.T, color=colour, lw=1.4 if zone.beyond else 2.2, ls=style)
        x, y = zone.loop.mean(axis=0) / unit
        if zone.kind == "decay":
            x = zone.loop[:, 0].max() / unit
        axes.text(
            x, y, zone.name, color=colour, ha="center", va="center",
            fontsize=10.5, fontweight="bold", clip_on=True,
            bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 1.2, "alpha": 0.8},
        )  # fmt: skip


def _add_splits(axes: Axes, panel: Panel, unit: float) -> None:
    """Draw the split at its length, and dashed on along the line that it would take."""
    for mark in panel.splits:
        y = [mark.y / unit] * 2
        start, come = (x / unit for x in mark.x)
        axes.plot([come, mark.to / unit], y, color=theme.INK, lw=1.6, ls=(0, (4, 3)))
        if start != come:
            axes.plot([start, come], y, color=theme.INK, lw=5.0, solid_capstyle="butt")
            axes.plot([start, come], y, color=theme.PAPER, lw=2.6, solid_capstyle="butt")


def _add_bent(
    axes: Axes, view: CloseUp, bent: Bent, span: tuple[float, float], unit: float
) -> None:
    """Draw the limb from the side as it bends, enlarged, beside its shape without the zone."""
    rise = float(bent.sound.max())
    times = max((n for n in BENT_TIMES if n * rise < BENT_RISE * np.ptp(span)), default=1)
    loop = view.panels[0].zones[0].loop[:, 0] / unit
    axes.axvspan(loop.min(), loop.max(), color=theme.FAINT, alpha=0.25, lw=0)
    axes.plot(bent.x / unit, times * bent.sound / unit, color=theme.INK, lw=1.2, ls=(0, (4, 3)))
    axes.plot(bent.x / unit, times * bent.zone / unit, color=theme.INK, lw=2.6)
    top = 1.25 * times * max(rise, float(bent.zone.max())) / unit
    axes.set(xlim=(span[0] / unit, span[1] / unit), ylim=(-0.15 * top, top))
    axes.set_title("bent, back up", pad=5)
    without = f"dashed: without the {view.panels[0].zones[0].kind}, {max(bent.more, 0.0):.0%} less"
    axes.set_title(f"drawn {times} times as much; {without}", pad=5, loc="right", fontsize=10,
                   fontweight="normal", color=theme.FAINT)  # fmt: skip
    axes.set_axis_off()


def _add_window(axes: Axes, panel: Panel, window: Window, unit: float) -> None:
    """Outline a window; its number stands clear of a knot, on the side the window lies on."""
    zone, corners = panel.zones[0], window.corners / unit
    outline = np.concatenate([corners, corners[:1]])
    axes.plot(*outline.T, color=theme.PAPER, lw=3.6)
    axes.plot(*outline.T, color=theme.INK, lw=1.6)
    loop = zone.loop / unit if zone.kind == "knot" else corners
    side = -1.0 if corners[:, 0].mean() < loop[:, 0].mean() - 0.01 else 1.0
    ends = np.concatenate([corners[:, 0], loop[:, 0]])
    axes.annotate(
        f"{window.strength_used:.2f}",
        xy=(float(ends.max() if side > 0 else ends.min()), float(corners[:, 1].mean())),
        xytext=(6.0 * side, 0.0),
        textcoords="offset points",
        ha="left" if side > 0 else "right",
        va="center",
        fontsize=11,
        fontweight="bold",
        bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 1.2, "alpha": 0.85},
    )
