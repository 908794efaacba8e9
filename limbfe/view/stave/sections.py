"""Sections of the stave with the finished limb in it: rings, pith, knots, as seen from the butt."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from limbfe.frames import Array
from limbfe.log.bench import back_at, branch_on_bench, limb_outline, stave_outline
from limbfe.log.branch import branch_in_section
from limbfe.log.log import Log
from limbfe.log.turn import Turn
from limbfe.stave.knot import inside_knot
from limbfe.stave.outline import back_z, belly_z
from limbfe.stave.profile import SectionShapes, shape_at
from limbfe.stave.stave import Stave
from limbfe.view import labels, theme
from limbfe.view.stave.view import StaveView

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Patch

PANELS, COLUMNS, SIDE = 12, 4, 3.4
"""Most sections on a sheet, sections in a row, and the size of one, inches."""
RING = 0.006
"""From ring to ring as drawn, m: a pattern, not a count of years."""
FINE = 220
"""Points of a section each way at which knots are looked for."""
REACHED = 0.1
"""How far along the stave (m) from its mark a branch is looked for."""


def section_stations(view: StaveView) -> Array:
    """Return stations worth a look: every knot in the bow, then between them; m from the butt."""
    low, high = view.line.nocks
    own = [mark.x for mark in view.log.marks if low < mark.x < high]
    regular = np.linspace(low, high, PANELS + 2)[1:-1]
    free = [x for x in regular if all(abs(x - one) > 0.03 for one in own)]
    return np.sort(np.array([*own, *free][:PANELS]))


def write_sections(
    view: StaveView,
    wanted: Stave,
    path: str | os.PathLike[str],
    units: labels.Units,
    stations: Array,
) -> Path:
    """Write the sections at stations (m from the butt) as PNG and return the path."""
    return theme.save_figure(draw_sections(view, wanted, stations, units), path)


def draw_sections(
    view: StaveView, wanted: Stave, stations: Array, units: labels.Units = "metric"
) -> Figure:
    """Return sections of the stave at stations from the butt, looking towards the top, back up.

    Parameters
    ----------
    view : StaveView
    wanted : Stave
        The finished limb: its outline.
    stations : array_like, m
    """
    unit, sign = labels.length_unit(units)
    stations = np.atleast_1d(np.asarray(stations, dtype=np.float64))
    count = min(COLUMNS, len(stations))
    rows = -(-len(stations) // count)
    with theme.typography():
        figure = theme.new_figure(max(SIDE * count, 5.0), SIDE * rows + 1.3)
        panels = figure.subplots(rows, count, squeeze=False)
        figure.subplots_adjust(
            left=0.05, right=0.99, top=1.0 - 0.85 / figure.get_figheight(),
            bottom=0.85 / figure.get_figheight(), hspace=0.28, wspace=0.16,
        )  # fmt: skip
        figure.suptitle(
            f"{view.title}: sections, seen from the butt, {sign}", x=0.01, ha="left",
            fontweight="bold",
        )  # fmt: skip
        for axes, x in zip(panels.ravel(), stations, strict=False):
            _section(axes, view, wanted, float(x), unit)
            axes.set_title(f"{labels.length_text(float(x), units)} from the butt", fontsize=10)
        for axes in panels.ravel()[len(stations) :]:
            axes.axis("off")
        _key(figure, view.log)
    return figure


def _key(figure: Figure, log: Log) -> None:
    """Say what the lines and colours are."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: list[Line2D | Patch] = [
        Line2D([], [], color=theme.INK, lw=1.8, label="finished limb"),
        Line2D([], [], color=theme.STRING, lw=0.7, ls=(0, (6, 4)), label="snapped line"),
    ]
    if log.round:
        handles.append(Line2D([], [], color=theme.GHOST, lw=0.6, label="rings (not counted)"))
        if np.any(log.sapwood > 0.0):
            handles.append(Line2D([], [], color=theme.DECAY, lw=1.4, label="sapwood ends"))
    if log.marks:
        handles.append(Patch(color=theme.KNOT, alpha=0.8, lw=0, label="knot in the limb"))
        handles.append(Patch(color=theme.KNOT, alpha=0.3, lw=0, label="and outside it"))
    columns = len(handles) if figure.get_figwidth() > 10.0 else 2
    figure.legend(handles=handles, loc="lower left", ncols=columns, fontsize=9)


def _section(axes: Axes, view: StaveView, wanted: Stave, x: float, unit: float) -> None:
    log = view.log
    shape = stave_outline(log, x)
    (wood,) = axes.fill(
        shape[:, 0] / unit, shape[:, 1] / unit, color="#ecd3a0", lw=1.2, ec=theme.FAINT, alpha=0.75
    )
    _rings(axes, view, x, unit, wood)
    s = float(view.line.along(x))
    low, high = shape.min(axis=0), shape.max(axis=0)
    _branches(axes, log, x, unit, (low, high), wood)
    if wanted.x[0] < s < wanted.x[-1]:
        _limb(axes, view, wanted, x, s, unit)
    axes.axvline(0.0, color=theme.STRING, lw=0.7, ls=(0, (6, 4)))
    axes.set_aspect("equal")
    axes.set_xlim((low[0] - 0.004) / unit, (high[0] + 0.004) / unit)
    axes.set_ylim((low[1] - 0.004) / unit, (high[1] + 0.006) / unit)
    axes.tick_params(labelsize=8)


def _branches(
    axes: Axes, log: Log, x: float, unit: float, box: tuple[Array, Array], wood: Patch
) -> None:
    """Draw every branch that the section meets, faint: what lies in the limb is drawn over it."""
    right, up = np.meshgrid(*(np.linspace(low, high, FINE) for low, high in zip(*box, strict=True)))
    for mark in log.marks:
        if abs(mark.x - x) > REACHED:
            continue
        branch = branch_on_bench(log, mark)
        inside = inside_knot(branch, x, right, up)
        if not np.any(inside):
            continue
        cut = axes.contourf(
            right / unit, up / unit, inside.astype(float), levels=[0.5, 1.5],
            colors=[theme.KNOT], alpha=0.3, zorder=2,
        )  # fmt: skip
        cut.set_clip_path(wood)
        k = np.flatnonzero(inside.ravel())
        axes.annotate(
            mark.name, (right.ravel()[k].mean() / unit, up.ravel()[k].mean() / unit),
            xytext=(8, 6), textcoords="offset points", fontsize=9, color=theme.KNOT,
            fontweight="bold", zorder=5,
        )  # fmt: skip


def _rings(axes: Axes, view: StaveView, x: float, unit: float, wood: object) -> None:
    log = view.log
    if not log.round:
        return
    from matplotlib.patches import Circle

    pith, across = float(log.at("pith", x)), float(log.at("pith_across", x))
    reach = float(np.hypot(pith, across))
    sapwood = float(log.at("sapwood", x))
    for radius in np.arange(reach, 0.0, -RING):
        _ring(axes, Circle((across / unit, -pith / unit), radius / unit, fill=False,
                           ec=theme.GHOST, lw=0.6), wood)  # fmt: skip
    if sapwood > 0.0:
        _ring(axes, Circle((across / unit, -pith / unit), (reach - sapwood) / unit, fill=False,
                           ec=theme.DECAY, lw=1.4), wood)  # fmt: skip
    axes.plot(across / unit, -pith / unit, "+", color=theme.KNOT, ms=9)


def _ring(axes: Axes, circle: object, wood: object) -> None:
    axes.add_patch(circle)  # type: ignore[arg-type]
    circle.set_clip_path(wood)  # type: ignore[attr-defined]


def _limb(axes: Axes, view: StaveView, wanted: Stave, x: float, s: float, unit: float) -> None:
    """Draw the finished limb, turned as the ring at its line lies, and the knots in it."""
    log, turn = view.log, Turn(view.line.upper_end)
    at = limb_outline(log, view.line, wanted, x) / unit
    axes.fill(at[:, 0], at[:, 1], facecolor="none", ec=theme.INK, lw=1.8, zorder=4)
    shapes: SectionShapes = shape_at(wanted, np.array([s]))
    half, thick = 0.5 * float(shapes.width[0]), float(shapes.thickness[0])
    y = np.linspace(-half, half, 121)
    back, belly = back_z(shapes, y[None, :])[0], belly_z(shapes, y[None, :])[0]
    grid_y, share = np.meshgrid(y, np.linspace(0.0, 1.0, FINE // 4))
    z = belly + share * (back - belly)
    offset = float(view.line.offset_at(x))
    spots = back_at(log, x).place(offset, turn.across(grid_y), 0.5 * thick - z) / unit
    for mark in log.marks:
        if abs(mark.x - x) > REACHED:
            continue
        branch = branch_in_section(log, mark, float(view.line.offset_at(mark.x)), turn, shapes)
        here = turn.way * (x - mark.x)
        inside = inside_knot(branch, np.full(z.shape, here), grid_y, z)
        if np.any(inside):
            axes.contourf(
                spots[..., 0], spots[..., 1], inside.astype(float), levels=[0.5, 1.5],
                colors=[theme.KNOT], alpha=0.8, zorder=3,
            )  # fmt: skip
