"""One section of the limb: what it is made of, and how it is worked at full draw."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.view import labels, theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from limbfe.analysis.wood.section_field import SectionField

WIDTH = 11.0
WORD_SHAPE = 4.0
"""Width over height of a name on the picture."""
RING_SPACING = 0.0025
"""Distance of the ring lines drawn (m): a picture of their direction, not of the real rings."""


def draw_section(
    section: SectionField, names: tuple[str, ...] = (), *, units: labels.Units = "metric"
) -> Figure:
    """Return the picture of a section: its wood on the left, its stress on the right.

    Parameters
    ----------
    section : SectionField
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


def draw_stress(section: SectionField, *, units: labels.Units = "metric") -> Figure:
    """Return the stress of a section alone, small enough to stand in the corner of a window."""
    size = np.ptp(section.outline, axis=0)
    width = 4.2
    height = float(np.clip(0.85 * width * 1.3 * size[1] / (1.22 * size[0]), 1.1, 3.2)) + 1.05
    with theme.typography():
        figure = theme.new_figure(width, height)
        axes = figure.add_axes((0.13, 0.62 / height, 0.84, 1.0 - 1.05 / height))
        _fill_stress(axes, section, units)
        axes.set_title(f"{theme.stress_unit(units)} at full draw", pad=6)
    return figure


def _frame(axes: Axes, section: SectionField, units: labels.Units) -> float:
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
    axes: Axes, section: SectionField, names: tuple[str, ...], units: labels.Units
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
    uniform = section.wood.max() == 0
    for layer, name in enumerate(("wood",) if uniform else theme.WOOD_NAMES):
        clear = (section.wood == layer) & (section.knot < 0) & (section.decay < 0)
        if np.any(clear):
            _name_region(axes, clear, (y, z), name, theme.INK)
    for index in np.unique(section.knot[section.knot >= 0]):
        _mark_region(axes, section.knot == index, (y, z), theme.KNOT, "")
        name = f"knot {names[index]}" if index < len(names) else "knot"
        _name_region(axes, section.knot == index, (y, z), name, theme.KNOT)
    if np.any(section.decay >= 0):
        _mark_region(axes, section.decay >= 0, (y, z), theme.DECAY, "////")
        _name_region(axes, section.decay >= 0, (y, z), "decay", theme.DECAY)


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
    """Write a name where the zone has most room for words, which are wider than high."""
    from scipy.ndimage import distance_transform_edt

    step = (at[1][1] - at[1][0], (at[0][1] - at[0][0]) / WORD_SHAPE)
    room = distance_transform_edt(np.pad(region, 1), sampling=step)[1:-1, 1:-1]
    row, column = np.unravel_index(np.argmax(room), room.shape)
    axes.text(
        at[0][column], at[1][row], name, ha="center", va="center", color=colour, fontsize=10.5,
        fontweight="normal" if colour == theme.INK else "bold", zorder=6,
        bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 1.2, "alpha": 0.75},
    )  # fmt: skip


def _draw_stress(
    figure: Figure, axes: Axes, section: SectionField, units: labels.Units, height: float
) -> None:
    filled = _fill_stress(axes, section, units)
    axes.set_title("Stress along the limb at full draw", pad=8)
    axes.figure.legend(
        *axes.get_legend_handles_labels(), loc="lower left", ncols=3, fontsize=10,
        handlelength=2.8, columnspacing=1.4, bbox_to_anchor=(0.055, 0.005),
    )  # fmt: skip
    box = axes.get_position()
    bar = figure.colorbar(
        filled, orientation="horizontal",
        cax=figure.add_axes((box.x0 + 0.06, 0.42 / height, box.width - 0.12, 0.13 / height)),
    )  # fmt: skip
    bar.set_label(
        f"squeezed      {theme.stress_unit(units)}      stretched", labelpad=1, fontsize=10
    )
    bar.outline.set_visible(False)


def _fill_stress(axes: Axes, section: SectionField, units: labels.Units) -> Any:
    unit = _frame(axes, section, units)
    y, z = section.y / unit, section.z / unit
    stress = section.stress * theme.scale_of("axial_stress", units).factor
    low, high = theme.value_range("axial_stress", section.stress, units)
    filled = axes.pcolormesh(
        y, z, stress, shading="nearest", vmin=low, vmax=high, rasterized=True,
        cmap=theme.colour_map("axial_stress"),
    )  # fmt: skip
    step = theme.round_up(high / 6)
    levels = step * np.arange(-8.0, 9.0)
    lines = axes.contour(
        y, z, np.where(_edges(section), np.nan, stress), levels[levels != 0.0],
        colors=theme.INK, linewidths=0.7, linestyles="solid", alpha=0.6,
    )  # fmt: skip
    axes.clabel(lines, fmt="%g", fontsize=9, inline_spacing=3)
    for zone in (section.knot >= 0, section.decay >= 0, section.wood >= 1, section.wood >= 2):
        if np.any(zone):
            axes.contour(y, z, zone, [0.5], colors=theme.INK, linewidths=0.9, linestyles="dotted")
    _draw_lines(axes, section, unit)
    return filled


def _edges(section: SectionField) -> NDArray[np.bool_]:
    """Return the grid points beside a boundary between materials, where the stress jumps."""
    from scipy.ndimage import maximum_filter, minimum_filter

    zone = section.wood + 10 * (section.knot + 1) + 1000 * (section.decay + 1)
    edges: NDArray[np.bool_] = maximum_filter(zone, 3) != minimum_filter(zone, 3)
    return edges


def _draw_lines(axes: Axes, section: SectionField, unit: float) -> None:
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
