"""A knot or patch close up: the fibres round it, and how hard each mode of failure is worked."""

from __future__ import annotations

import os
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
WORD_HEIGHT = 0.2
"""Room above and below the limb for the names of its sides (inches)."""
SIDES = {"flat": ("archer's right", "archer's left"), "side": ("back", "belly")}


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
    """The patch of wood over which a stress was averaged.

    Attributes
    ----------
    corners : ndarray, shape (4, 2), m
    strength_used : float
        Of the averaged stress.
    """

    corners: Array
    strength_used: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Panel:
    """One way of failing on the slice of the limb that decides it, as plain arrays.

    Attributes
    ----------
    mode : str
        The way of failing, in words.
    height : float, m
        Where the slice lies: from mid-thickness towards the back, or from mid-width towards the
        archer's right.
    points : ndarray, shape (n, 2), m
        Nodes; x along the limb from the middle of the grip, y towards the archer's right or,
        upright, towards the back.
    triangles : ndarray of int, shape (t, 3)
    fibre_angle : ndarray, shape (n,), rad
        From x towards y; nan in a hole.
    used : ndarray, shape (n,)
        Stress over strength.
    edge_x : ndarray, shape (m,), m
    left_edge, right_edge : ndarray, shape (m,), m
        The limb's edges at smaller and at larger y.
    zones : tuple of Zone
        The one in question first.
    window : Window or None
    """

    mode: str
    height: float
    points: Array
    triangles: NDArray[np.int64]
    fibre_angle: Array
    used: Array
    edge_x: Array
    left_edge: Array
    right_edge: Array
    zones: tuple[Zone, ...]
    window: Window | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CloseUp:
    """A zone close up.

    Attributes
    ----------
    title : str
    plane : {"flat", "side"}
        Slices parallel to the back, or upright between back and belly.
    panels : tuple of Panel
    """

    title: str
    plane: Literal["flat", "side"]
    panels: tuple[Panel, ...]


def draw_defect(view: CloseUp, *, units: labels.Units = "metric") -> Figure:
    """Return the close-up: one panel a mode, fibres as lines, windows outlined and numbered."""
    low, high = shown_span(view)
    unit, sign = labels.length_unit(units)
    floor, top = _shown_width(view, low, high)
    count = len(view.panels)
    margin = max(0.13 * (top - floor), WORD_HEIGHT * (high - low) / (0.885 * WIDTH))
    inches = 0.885 * WIDTH * (top - floor + 2.0 * margin) / (high - low)
    panel = float(np.clip(inches, 1.2, 3.4))
    height = count * (panel + 0.42) + 1.65
    with theme.typography():
        figure = theme.new_figure(WIDTH, height)
        panels = figure.subplots(count, 1, sharex=True, squeeze=False)[:, 0]
        figure.subplots_adjust(
            left=0.1, right=0.985, top=1 - 0.85 / height, bottom=1.15 / height,
            hspace=0.42 / panel,
        )  # fmt: skip
        _add_heading(figure, view, height)
        for axes, one in zip(panels, view.panels, strict=True):
            filled = _fill(axes, one, unit)
            _add_fibres(axes, trace_fibres(one, low, high), unit)
            _add_zones(axes, one.zones, unit)
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
        bar = figure.colorbar(
            filled, orientation="horizontal", extend="max",
            cax=figure.add_axes((0.25, 0.42 / height, 0.5, 0.13 / height)),
        )  # fmt: skip
        bar.set_label(theme.SCALES["strength_used"].label, labelpad=1, fontsize=10)
        bar.outline.set_visible(False)
    return figure


def height_text(plane: Literal["flat", "side"], height: float, units: labels.Units) -> str:
    """Return where in the limb a slice lies."""
    middle, (below, above) = (
        ("mid-thickness", ("belly", "back"))
        if plane == "flat"
        else ("mid-width", ("archer's left", "archer's right"))
    )
    side = above if height > 0.0 else below
    return f"slice {labels.length_text(abs(height), units)} from {middle} towards the {side}"


def _add_heading(figure: Figure, view: CloseUp, height: float) -> None:
    figure.text(0.015, 1 - 0.12 / height, view.title, va="top", fontsize=14, fontweight="bold")
    figure.text(
        0.985, 1 - 0.16 / height, "box: the wood that decides, and its strength used",
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


def shown_span(view: CloseUp) -> tuple[float, float]:
    """Return the stretch of the limb that is shown: a few lengths of the zone, within the strip."""
    loops = np.concatenate([panel.zones[0].loop for panel in view.panels])
    middle, half = loops[:, 0].mean(), 0.5 * np.ptp(loops[:, 0])
    widest = max(
        float(np.interp(middle, one.edge_x, one.right_edge - one.left_edge)) for one in view.panels
    )
    reach = max(REACH * half, 1.4 * widest)
    low = max(max(float(one.edge_x[0]), float(one.points[:, 0].min())) for one in view.panels)
    high = min(min(float(one.edge_x[-1]), float(one.points[:, 0].max())) for one in view.panels)
    return max(low, float(middle - reach)), min(high, float(middle + reach))


def trace_fibres(panel: Panel, low: float, high: float, *, steps: int = 400) -> Array:
    """Return lines that follow the grain, evenly spaced where they enter at the lower end.

    Parameters
    ----------
    panel : Panel
    low, high : float, m
        Stretch along the limb.
    steps : int
        Steps of the midpoint rule along x.

    Returns
    -------
    ndarray, shape (FIBRES, steps + 1, 2), m
        nan where a line has left the limb or met a knot or a hole.
    """
    slope = _slope_grid(panel, low, high)
    x = np.linspace(low, high, steps + 1)
    half = 0.5 * (x[1] - x[0])
    start = np.interp(low, panel.edge_x, panel.left_edge)
    end = np.interp(low, panel.edge_x, panel.right_edge)
    margin = (end - start) / (2 * FIBRES)
    y = np.linspace(start + margin, end - margin, FIBRES)
    lines = np.empty((FIBRES, steps + 1, 2))
    lines[:, :, 0] = x
    lines[:, 0, 1] = y
    for k in range(steps):
        first = slope(np.stack([np.full(FIBRES, x[k]), y], axis=-1))
        middle = np.stack([np.full(FIBRES, x[k] + half), y + half * first], axis=-1)
        y = y + 2.0 * half * slope(middle)
        outside = y > np.interp(x[k + 1], panel.edge_x, panel.right_edge)
        outside |= y < np.interp(x[k + 1], panel.edge_x, panel.left_edge)
        y = np.where(outside, np.nan, y)
        lines[:, k + 1, 1] = y
    return lines


def _slope_grid(panel: Panel, low: float, high: float) -> Any:
    """Return the fibres' slope as a function of points, interpolated on a regular grid."""
    from matplotlib.tri import LinearTriInterpolator, Triangulation
    from scipy.interpolate import RegularGridInterpolator as Grid
    from scipy.ndimage import distance_transform_edt

    x = np.linspace(low, high, 221)
    y = np.linspace(panel.left_edge.min(), panel.right_edge.max(), 91)
    grid = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1)
    known = np.isfinite(panel.fibre_angle)
    mesh = Triangulation(panel.points[:, 0], panel.points[:, 1], panel.triangles)
    mesh.set_mask(~known[panel.triangles].all(axis=1))
    slope = np.where(known, np.tan(panel.fibre_angle), 0.0)
    found = LinearTriInterpolator(mesh, slope)(grid[..., 0], grid[..., 1])
    # Beyond the edges and in holes: as at the nearest place where there is wood.
    unknown: Any = found.mask
    spacing = [float(x[1] - x[0]), float(y[1] - y[0])]
    _, nearest = distance_transform_edt(unknown, sampling=spacing, return_indices=True)
    values = found.filled(0.0)[tuple(nearest)]
    for zone in panel.zones:
        if zone.hole or zone.kind == "knot":
            values[_within(zone.loop, grid)] = np.nan
    return Grid((x, y), values, bounds_error=False, fill_value=np.nan)


def _within(loop: Array, points: Array) -> NDArray[np.bool_]:
    from matplotlib.path import Path as Polygon

    flat = Polygon(loop).contains_points(points.reshape(-1, 2))
    inside: NDArray[np.bool_] = flat.reshape(points.shape[:-1])
    return inside


def _fill(axes: Axes, panel: Panel, unit: float) -> Any:
    from matplotlib.tri import Triangulation

    x, y = (panel.points / unit).T
    mesh = Triangulation(x, y, panel.triangles)
    filled = axes.tripcolor(
        mesh, panel.used, shading="gouraud", cmap=theme.colour_map("strength_used"), vmin=0.0,
        vmax=1.0, rasterized=True,
    )  # fmt: skip
    if np.nanmax(panel.used) > 1.0:
        beyond = axes.tricontourf(mesh, panel.used, [1.0, np.inf], colors="none", hatches=["///"])
        beyond.set_edgecolor(theme.FAINT)
        beyond.set_linewidth(0.0)
    for edge in (panel.left_edge, panel.right_edge):
        axes.plot(panel.edge_x / unit, edge / unit, color=theme.INK, lw=1.6)
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
        if zone.kind == "decay":
            x = zone.loop[:, 0].max() / unit
        axes.text(
            x, y, zone.name, color=colour, ha="center", va="center",
            fontsize=10.5, fontweight="bold", clip_on=True,
            bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 1.2, "alpha": 0.8},
        )  # fmt: skip


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
