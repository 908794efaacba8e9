"""One section of the limb: what it is made of, and how it is worked at full draw."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array, read_only
from limbfe.view import labels, theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from limbfe.analysis.results import Assessment
    from limbfe.stave.profile import SectionShapes
    from limbfe.stave.stave import Stave

WIDTH = 11.0
GRID = 331
"""Grid points across the larger side of a section."""
COARSE = 6
"""The strain, smooth but for kinks at the layers, is computed at every sixth grid point."""
RING_SPACING = 0.0025
"""Distance of the ring lines drawn (m): a picture of their direction, not of the real rings."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionView:
    """A section as arrays on a regular grid of section coordinates.

    Attributes
    ----------
    x : float, m
        Station along the bow, lower limb negative.
    outline : ndarray, shape (b, 2), m
        Boundary (y, z), once round.
    y : ndarray, shape (n,), m
    z : ndarray, shape (k,), m
    wood, knot, decay : ndarray of int, shape (k, n)
        Wood 0 heart, 1 sap, 2 backing, -1 outside the limb; index of the knot or patch, or -1.
    stress : ndarray, shape (k, n), Pa
        Along the limb at full draw; nan outside.
    ring_height : ndarray, shape (k, n), m
        Distance along the ring's normal: constant on one ring.
    neutral_point, neutral_direction : ndarray, shape (2,)
        The line without strain (m, unit vector).
    shear_centre, tension_centre : ndarray, shape (2,), m
    """

    x: float
    outline: Array
    y: Array
    z: Array
    wood: NDArray[np.int64]
    knot: NDArray[np.int64]
    decay: NDArray[np.int64]
    stress: Array
    ring_height: Array
    neutral_point: Array
    neutral_direction: Array
    shear_centre: Array
    tension_centre: Array


def view_section(assessment: Assessment, x: float) -> SectionView:
    """Return the section at a station, stressed by the resultants of full draw.

    Parameters
    ----------
    assessment : Assessment
    x : float, m
        Station along the bow, lower limb negative.

    Raises
    ------
    GeometryError
        If the station lies beyond a tip.
    """
    from limbfe.section import (
        integration_points,
        neutral_axis,
        section_mesh,
        section_stiffness,
        shear_centre,
        strain_at,
        tension_centre,
    )
    from limbfe.stave.field import density_at, stiffness_at
    from limbfe.stave.profile import shape_at
    from limbfe.stave.zones import zone_at

    stave, limb = assessment.setup.stave, assessment.limb
    shapes = shape_at(stave, np.array([x]))
    mesh = section_mesh(shapes, fineness=assessment.setup.fineness)
    points, _ = integration_points(mesh)
    place = (x, points[..., 0], points[..., 1])
    solution = section_stiffness(mesh, stiffness_at(stave, *place), density_at(stave, *place))
    load = np.array([np.interp(x, limb.x, column) for column in limb.resultants.T])
    outline = mesh.nodes[0, mesh.outline]
    y, z, inside = _grid(outline)
    at = np.stack(np.meshgrid(y, z), axis=-1)[inside]
    strain = _between(y[::COARSE], z[::COARSE], at, lambda p: strain_at(solution, load, p[None])[0])
    wood = stiffness_at(stave, x, at[:, 0], at[:, 1])
    zones = zone_at(stave, x, at[:, 0], at[:, 1])
    neutral_point, neutral_direction = neutral_axis(solution, load)
    return SectionView(
        x=x,
        outline=read_only(outline),
        y=y,
        z=z,
        wood=_filled(inside, zones.wood),
        knot=_filled(inside, zones.knot),
        decay=_filled(inside, zones.decay),
        stress=_spread(inside, np.einsum("pi,pi->p", wood[:, 0], strain)),
        ring_height=_ring_height(stave, shapes, y, z),
        neutral_point=neutral_point[0],
        neutral_direction=neutral_direction[0],
        shear_centre=shear_centre(solution)[0],
        tension_centre=tension_centre(solution)[0],
    )


def draw_section(
    section: SectionView, names: tuple[str, ...] = (), *, units: labels.Units = "metric"
) -> Figure:
    """Return the picture of a section: its wood on the left, its stress on the right.

    Parameters
    ----------
    section : SectionView
    names : tuple of str
        Names of the stave's knots, by index.
    units : {"metric", "imperial"}
    """
    size = np.ptp(section.outline, axis=0)
    panel = 0.43 * WIDTH
    height = float(np.clip(panel * 1.3 * size[1] / (1.22 * size[0]), 2.2, 6.0)) + 1.9
    with theme.typography():
        figure = theme.new_figure(WIDTH, height)
        left, right = figure.subplots(1, 2)
        figure.subplots_adjust(
            left=0.07, right=0.985, top=1 - 0.85 / height, bottom=1.15 / height, wspace=0.16
        )
        _draw_wood(left, section, names, units)
        _draw_stress(figure, right, section, units, height)
        limb = "lower" if section.x < 0 else "upper"
        figure.text(
            0.015, 1 - 0.14 / height, f"Section of the {limb} limb at "
            f"{labels.length_text(abs(section.x), units)}", va="top", fontsize=14,
            fontweight="bold",
        )  # fmt: skip
    return figure


def write_section(
    assessment: Assessment,
    x: float,
    path: str | os.PathLike[str],
    *,
    units: labels.Units = "metric",
) -> Path:
    """Write `draw_section` of the section at a station as PNG and return the path."""
    names = tuple(knot.name for knot in assessment.setup.stave.knots)
    return theme.save_figure(draw_section(view_section(assessment, x), names, units=units), path)


def _grid(outline: Array) -> tuple[Array, Array, NDArray[np.bool_]]:
    from matplotlib.path import Path as Polygon

    low, high = outline.min(axis=0), outline.max(axis=0)
    counts = np.ceil(GRID * (high - low) / (high - low).max()).astype(int)
    # Cell centres, so that whole cells end at the back and the sides.
    y, z = (low[k] + (high - low)[k] * (np.arange(counts[k]) + 0.5) / counts[k] for k in range(2))
    points = np.stack(np.meshgrid(y, z), axis=-1)
    inside = Polygon(outline).contains_points(points.reshape(-1, 2)).reshape(points.shape[:2])
    return y, z, inside


def _between(y: Array, z: Array, at: Array, values: Callable[[Array], Array]) -> Array:
    """Return values at many points, computed on a coarse grid and interpolated between."""
    from scipy.interpolate import RegularGridInterpolator

    grid = np.stack(np.meshgrid(y, z, indexing="ij"), axis=-1)
    coarse = values(grid.reshape(-1, 2)).reshape(*grid.shape[:2], -1)
    fine = RegularGridInterpolator((y, z), coarse, bounds_error=False, fill_value=None)
    interpolated: Array = fine(at)
    return interpolated


def _filled(inside: NDArray[np.bool_], values: Any) -> NDArray[np.int64]:
    out = np.full(inside.shape, -1, dtype=np.int64)
    out[inside] = values
    return out


def _spread(inside: NDArray[np.bool_], values: Array) -> Array:
    out = np.full(inside.shape, np.nan)
    out[inside] = values
    return out


def _ring_height(stave: Stave, shapes: SectionShapes, y: Array, z: Array) -> Array:
    """Return the distance of every grid point along the rings' normal, from the back's middle."""
    lean, radius = float(shapes.lean[0]), stave.ring_radius
    across, up = np.meshgrid(y, z - float(shapes.thickness[0]) / 2)
    if not np.isfinite(radius):
        flat: Array = across * np.sin(lean) + up * np.cos(lean)
        return flat
    from_pith: Array = np.hypot(across + radius * np.sin(lean), up + radius * np.cos(lean))
    return from_pith - radius


def _frame(axes: Axes, section: SectionView, units: labels.Units) -> float:
    unit, sign = labels.length_unit(units)
    low, high = section.outline.min(axis=0) / unit, section.outline.max(axis=0) / unit
    size = high - low
    axes.set_aspect("equal")
    axes.set(
        xlim=(low[0] - 0.11 * size[0], high[0] + 0.11 * size[0]),
        ylim=(low[1] - 0.15 * size[1], high[1] + 0.15 * size[1]),
        xlabel=f"archer's left      {sign}      archer's right",
    )
    loop = np.concatenate([section.outline, section.outline[:1]]) / unit
    axes.plot(*loop.T, color=theme.INK, lw=1.8, zorder=5)
    axes.text(0.5 * (low[0] + high[0]), high[1] + 0.04 * size[1], "back", ha="center", va="bottom")
    axes.text(0.5 * (low[0] + high[0]), low[1] - 0.04 * size[1], "belly", ha="center", va="top")
    axes.grid(visible=False)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(lambda value, _: f"{abs(value):g}")
    return unit


def _draw_wood(
    axes: Axes, section: SectionView, names: tuple[str, ...], units: labels.Units
) -> None:
    unit = _frame(axes, section, units)
    axes.set_title("Wood and its rings", pad=8)
    axes.set_ylabel(labels.length_unit(units)[1])
    y, z = section.y / unit, section.z / unit
    image = np.ones((*section.wood.shape, 4))
    image[..., :3] = theme.wood_colours(np.maximum(section.wood, 0))
    image[..., 3] = section.wood >= 0
    axes.pcolormesh(y, z, image, shading="nearest", rasterized=True)
    ring = np.where(section.wood >= 0, section.ring_height, np.nan)
    levels = np.arange(np.nanmin(ring), np.nanmax(ring), RING_SPACING)
    axes.contour(y, z, ring, levels, colors=theme.INK, linewidths=0.7, alpha=0.45,
                 linestyles="solid")  # fmt: skip
    for layer, name in enumerate(theme.WOOD_NAMES):
        clear = (section.wood == layer) & (section.knot < 0) & (section.decay < 0)
        if np.any(clear):
            _name_region(axes, clear, (y, z), name, theme.INK)
    for index in np.unique(section.knot[section.knot >= 0]):
        _mark_region(axes, section.knot == index, (y, z), theme.KNOT, "")
        name = f"knot {names[index]}" if index < len(names) else "knot"
        _name_region(axes, section.knot == index, (y, z), name, theme.KNOT)
    if np.any(section.decay >= 0):
        _mark_region(axes, section.decay >= 0, (y, z), theme.DECAY, "////")
        _name_region(axes, section.decay >= 0, (y, z), "rot", theme.DECAY)


def _mark_region(
    axes: Axes, region: NDArray[np.bool_], at: tuple[Array, Array], colour: str, hatch: str
) -> None:
    """Outline a zone, with a hatch over pale paper so that it is not told by colour alone."""
    level = region.astype(np.float64)
    axes.contourf(*at, level, [0.5, 1.5], colors=[theme.PAPER], alpha=0.7)
    if hatch:
        axes.contourf(*at, level, [0.5, 1.5], colors="none", hatches=[hatch])
    axes.contour(*at, level, [0.5], colors=colour, linewidths=2.0)


def _name_region(
    axes: Axes, region: NDArray[np.bool_], at: tuple[Array, Array], name: str, colour: str
) -> None:
    """Write a name where the zone has most room around it."""
    from scipy.ndimage import distance_transform_edt

    room = distance_transform_edt(np.pad(region, 1))[1:-1, 1:-1]
    row, column = np.unravel_index(np.argmax(room), room.shape)
    axes.text(
        at[0][column], at[1][row], name, ha="center", va="center", color=colour, fontsize=10.5,
        fontweight="normal" if colour == theme.INK else "bold", zorder=6,
        bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 1.2, "alpha": 0.75},
    )  # fmt: skip


def _draw_stress(
    figure: Figure, axes: Axes, section: SectionView, units: labels.Units, height: float
) -> None:
    unit = _frame(axes, section, units)
    axes.set_title("Stress along the limb at full draw", pad=8)
    y, z = section.y / unit, section.z / unit
    low, high = theme.value_range("axial_stress", section.stress)
    filled = axes.pcolormesh(
        y, z, section.stress / 1e6, shading="nearest", vmin=low, vmax=high, rasterized=True,
        cmap=theme.colour_map("axial_stress"),
    )  # fmt: skip
    step = theme.round_up(high / 6)
    levels = step * np.arange(-8.0, 9.0)
    lines = axes.contour(
        y, z, np.where(_edges(section), np.nan, section.stress / 1e6), levels[levels != 0.0],
        colors=theme.INK, linewidths=0.7, linestyles="solid", alpha=0.6,
    )  # fmt: skip
    axes.clabel(lines, fmt="%g", fontsize=9, inline_spacing=3)
    for zone in (section.knot >= 0, section.decay >= 0, section.wood >= 1, section.wood >= 2):
        if np.any(zone):
            axes.contour(y, z, zone, [0.5], colors=theme.INK, linewidths=0.9, linestyles="dotted")
    _draw_lines(axes, section, unit)
    box = axes.get_position()
    bar = figure.colorbar(
        filled, orientation="horizontal",
        cax=figure.add_axes((box.x0 + 0.06, 0.42 / height, box.width - 0.12, 0.13 / height)),
    )  # fmt: skip
    bar.set_label("squeezed      MPa      stretched", labelpad=1, fontsize=10)
    bar.outline.set_visible(False)


def _edges(section: SectionView) -> NDArray[np.bool_]:
    """Return the grid points beside a boundary between materials, where the stress jumps."""
    from scipy.ndimage import maximum_filter, minimum_filter

    zone = section.wood + 10 * (section.knot + 1) + 1000 * (section.decay + 1)
    edges: NDArray[np.bool_] = maximum_filter(zone, 3) != minimum_filter(zone, 3)
    return edges


def _draw_lines(axes: Axes, section: SectionView, unit: float) -> None:
    """Draw the neutral axis, the shear centre and the point where a pure pull bends nothing."""
    if np.all(np.isfinite(section.neutral_point)):
        point, along = section.neutral_point / unit, section.neutral_direction
        reach = 0.56 * np.ptp(section.outline[:, 0]) / unit * np.array([-1.0, 1.0])
        ends = point[:, None] + along[:, None] * reach
        axes.plot(*ends, color=theme.INK, lw=1.6, ls=(0, (9, 2, 2, 2)), label="neutral axis")
    style: dict[str, Any] = {"mec": theme.INK, "mew": 1.6, "ls": "none", "zorder": 6}
    axes.plot(*section.shear_centre / unit, "P", ms=9, mfc=theme.PAPER, label="shear centre",
              **style)  # fmt: skip
    axes.plot(*section.tension_centre / unit, "o", ms=7, mfc=theme.PAPER,
              label="centre of stiffness", **style)  # fmt: skip
    axes.figure.legend(
        *axes.get_legend_handles_labels(), loc="lower left", ncols=3, fontsize=10,
        handlelength=2.8, columnspacing=1.4, bbox_to_anchor=(0.055, 0.005),
    )  # fmt: skip
