"""A knot or patch close up: the fibres round it, and how hard each mode of failure is worked."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.view import labels, theme
from limbfe.view.faces import name_sides

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH = 8.6
FIBRES = 27
"""Fibre lines drawn across the strip."""
REACH = 3.2
"""Half the length shown, in half lengths of the zone."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Zone:
    """The trace of a knot or patch on the strip.

    Attributes
    ----------
    name : str
    kind : {"knot", "decay"}
    loop : ndarray, shape (k, 2), m
        Its rim, once round.
    hole : bool
        True where there is no wood: fibres end at the rim.
    """

    name: str
    kind: Literal["knot", "decay"]
    loop: Array
    hole: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window:
    """The patch of wood over which one mode's stress was averaged.

    Attributes
    ----------
    mode : str
        A key of `CloseUp.used`.
    corners : ndarray, shape (4, 2), m
    strength_used : float
        Of the averaged stress.
    """

    mode: str
    corners: Array
    strength_used: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CloseUp:
    """One strip of the limb round a zone, as plain arrays.

    Attributes
    ----------
    title : str
    points : ndarray, shape (n, 2), m
        Nodes; x along the limb from the middle of the grip, y towards the archer's right.
    triangles : ndarray of int, shape (t, 3)
    fibre_angle : ndarray, shape (n,), rad
        From x towards y; nan in a hole.
    used : mapping of str to ndarray, shape (n,)
        Stress over strength by mode, in the order in which the panels stand.
    edge_x : ndarray, shape (m,), m
    left_edge, right_edge : ndarray, shape (m,), m
        The limb's edges on the archer's left (smaller y) and right.
    zones : tuple of Zone
        The one in question first.
    windows : tuple of Window
    """

    title: str
    points: Array
    triangles: NDArray[np.int64]
    fibre_angle: Array
    used: Mapping[str, Array]
    edge_x: Array
    left_edge: Array
    right_edge: Array
    zones: tuple[Zone, ...]
    windows: tuple[Window, ...]


def draw_defect(view: CloseUp, *, units: labels.Units = "metric") -> Figure:
    """Return the close-up: one panel a mode, fibres as lines, windows outlined and numbered."""
    low, high = shown_span(view)
    unit, sign = labels.length_unit(units)
    between = (view.edge_x >= low) & (view.edge_x <= high)
    floor, top = view.left_edge[between].min(), view.right_edge[between].max()
    count = len(view.used)
    panel = float(np.clip(0.885 * WIDTH * 1.12 * (top - floor) / (high - low), 1.2, 3.4))
    height = count * (panel + 0.42) + 1.65
    with theme.typography():
        figure = theme.new_figure(WIDTH, height)
        panels = figure.subplots(count, 1, sharex=True, squeeze=False)[:, 0]
        figure.subplots_adjust(
            left=0.1, right=0.985, top=1 - 0.85 / height, bottom=1.15 / height,
            hspace=0.42 / panel,
        )  # fmt: skip
        figure.text(0.015, 1 - 0.12 / height, view.title, va="top", fontsize=14, fontweight="bold")
        figure.text(
            0.985, 1 - 0.16 / height, "box: the wood that decides, and its strength used",
            va="top", ha="right", fontsize=10, color=theme.FAINT,
        )  # fmt: skip
        lines = trace_fibres(view, low, high)
        for axes, (mode, values) in zip(panels, view.used.items(), strict=True):
            filled = _fill(axes, view, values, unit)
            _add_fibres(axes, lines, unit)
            _add_zones(axes, view.zones, unit)
            for window in view.windows:
                if window.mode == mode:
                    _add_window(axes, window, unit)
            margin = 0.06 * (top - floor)
            axes.set(
                xlim=(low / unit, high / unit),
                ylim=((floor - margin) / unit, (top + margin) / unit),
                ylabel=sign,
            )
            axes.set_aspect("equal")
            axes.set_title(mode, pad=5)
            axes.yaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
            axes.grid(visible=False)
            name_sides(axes)
        panels[-1].set_xlabel(f"along the limb from the middle of the grip, {sign}")
        bar = figure.colorbar(
            filled, orientation="horizontal", extend="max",
            cax=figure.add_axes((0.25, 0.42 / height, 0.5, 0.13 / height)),
        )  # fmt: skip
        bar.set_label(theme.SCALES["strength_used"].label, labelpad=1, fontsize=10)
        bar.outline.set_visible(False)
    return figure


def write_defect(view: CloseUp, path: str | os.PathLike[str], **options: Any) -> Path:
    """Write `draw_defect` as PNG and return the path."""
    return theme.save_figure(draw_defect(view, **options), path)


def shown_span(view: CloseUp) -> tuple[float, float]:
    """Return the stretch of the limb that is shown: a few lengths of the zone, within the strip."""
    loop = view.zones[0].loop
    middle, half = loop[:, 0].mean(), 0.5 * np.ptp(loop[:, 0])
    width = float(np.interp(middle, view.edge_x, view.right_edge - view.left_edge))
    reach = max(REACH * half, 1.4 * width)
    low = max(float(view.edge_x[0]), float(view.points[:, 0].min()), middle - reach)
    high = min(float(view.edge_x[-1]), float(view.points[:, 0].max()), middle + reach)
    return low, high


def trace_fibres(view: CloseUp, low: float, high: float, *, steps: int = 400) -> Array:
    """Return lines that follow the grain, evenly spaced where they enter at the lower end.

    Parameters
    ----------
    view : CloseUp
    low, high : float, m
        Stretch along the limb.
    steps : int
        Steps of the midpoint rule along x.

    Returns
    -------
    ndarray, shape (FIBRES, steps + 1, 2), m
        nan where a line has left the limb or met a knot or a hole.
    """
    slope = _slope_grid(view, low, high)
    x = np.linspace(low, high, steps + 1)
    half = 0.5 * (x[1] - x[0])
    start = np.interp(low, view.edge_x, view.left_edge)
    end = np.interp(low, view.edge_x, view.right_edge)
    margin = (end - start) / (2 * FIBRES)
    y = np.linspace(start + margin, end - margin, FIBRES)
    lines = np.empty((FIBRES, steps + 1, 2))
    lines[:, :, 0] = x
    lines[:, 0, 1] = y
    for k in range(steps):
        first = slope(np.stack([np.full(FIBRES, x[k]), y], axis=-1))
        middle = np.stack([np.full(FIBRES, x[k] + half), y + half * first], axis=-1)
        y = y + 2.0 * half * slope(middle)
        outside = y > np.interp(x[k + 1], view.edge_x, view.right_edge)
        outside |= y < np.interp(x[k + 1], view.edge_x, view.left_edge)
        y = np.where(outside, np.nan, y)
        lines[:, k + 1, 1] = y
    return lines


def _slope_grid(view: CloseUp, low: float, high: float) -> Any:
    """Return the fibres' slope as a function of points, interpolated on a regular grid."""
    from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator
    from scipy.interpolate import RegularGridInterpolator as Grid

    x = np.linspace(low, high, 221)
    y = np.linspace(view.left_edge.min(), view.right_edge.max(), 91)
    grid = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1)
    known = np.isfinite(view.fibre_angle)
    points, slope = view.points[known], np.tan(view.fibre_angle[known])
    values = LinearNDInterpolator(points, slope)(grid)
    values = np.where(np.isfinite(values), values, NearestNDInterpolator(points, slope)(grid))
    for zone in view.zones:
        if zone.hole or zone.kind == "knot":
            values[_within(zone.loop, grid)] = np.nan
    return Grid((x, y), values, bounds_error=False, fill_value=np.nan)


def _within(loop: Array, points: Array) -> NDArray[np.bool_]:
    from matplotlib.path import Path as Polygon

    flat = Polygon(loop).contains_points(points.reshape(-1, 2))
    inside: NDArray[np.bool_] = flat.reshape(points.shape[:-1])
    return inside


def _fill(axes: Axes, view: CloseUp, values: Array, unit: float) -> Any:
    from matplotlib.tri import Triangulation

    x, y = (view.points / unit).T
    mesh = Triangulation(x, y, view.triangles)
    filled = axes.tripcolor(
        mesh, values, shading="gouraud", cmap=theme.colour_map("strength_used"), vmin=0.0,
        vmax=1.0, rasterized=True,
    )  # fmt: skip
    if np.nanmax(values) > 1.0:
        beyond = axes.tricontourf(mesh, values, [1.0, np.inf], colors="none", hatches=["///"])
        beyond.set_edgecolor(theme.FAINT)
        beyond.set_linewidth(0.0)
    for edge in (view.left_edge, view.right_edge):
        axes.plot(view.edge_x / unit, edge / unit, color=theme.INK, lw=1.6)
    return filled


def _add_fibres(axes: Axes, lines: Array, unit: float) -> None:
    from matplotlib.collections import LineCollection

    axes.add_collection(
        LineCollection(list(lines / unit), colors=theme.INK, linewidths=0.7, alpha=0.5)
    )


def _add_zones(axes: Axes, zones: tuple[Zone, ...], unit: float) -> None:
    for zone in zones:
        colour = theme.KNOT if zone.kind == "knot" else theme.DECAY
        loop = np.concatenate([zone.loop, zone.loop[:1]]) / unit
        if zone.hole:
            axes.fill(*loop.T, color=theme.PAPER)
        axes.plot(*loop.T, color=colour, lw=2.2, ls="-" if zone.kind == "knot" else (0, (4, 2)))
        x, y = zone.loop.mean(axis=0) / unit
        axes.text(
            x, y, zone.name, color=colour, ha="center", va="center",
            fontsize=10.5, fontweight="bold", clip_on=True,
            bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 1.2, "alpha": 0.8},
        )  # fmt: skip


def _add_window(axes: Axes, window: Window, unit: float) -> None:
    corners = np.concatenate([window.corners, window.corners[:1]]) / unit
    axes.plot(*corners.T, color=theme.PAPER, lw=3.6)
    axes.plot(*corners.T, color=theme.INK, lw=1.6)
    axes.annotate(
        f"{window.strength_used:.2f}",
        xy=(float(corners[:, 0].max()), float(corners[:, 1].mean())),
        xytext=(6, 0),
        textcoords="offset points",
        va="center",
        fontsize=11,
        fontweight="bold",
        bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 1.2, "alpha": 0.85},
    )
