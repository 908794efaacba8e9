"""At which draw length each place of the limb first passes a strain, as a map of a face.

Flaking bark or a brittle varnish shows the same on real wood: it cracks where and when the
strain passes its own limit, so that the map can be held beside the limb.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.analysis.wood.strain_limits import first_passing
from limbfe.errors import LimbfeError
from limbfe.frames import Array
from limbfe.view import labels, theme
from limbfe.view.bow.faces import ACROSS, MARGINS, WIDTH, Face, mark_grip, name_sides, station_axis
from limbfe.view.bow.parts import face_map
from limbfe.view.bow.scene import whole_surface

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from limbfe.analysis.bow.drawn import Pose
    from limbfe.analysis.results.assessment import Assessment
    from limbfe.analysis.wood.stress import SurfaceField

HEIGHT = 4.0
BANDS = 7
STEPS = (0.005, 0.01, 0.02, 0.025, 0.05, 0.1)
INCHES = (0.25, 0.5, 1.0, 2.0, 4.0)


def draw_first_strain(
    assessment: Assessment,
    steps: Sequence[tuple[Pose, SurfaceField]],
    level: float,
    *,
    face: Face = "back",
    units: labels.Units = "metric",
) -> Figure:
    """Return the map of a face that fills as the bow is drawn.

    Parameters
    ----------
    assessment : Assessment
    steps : sequence of (Pose, SurfaceField)
        States from brace to full draw with their own fields, all at the same stations.
    level : float
        Strain along the limb; on the belly its amount is taken as squeezing.
    face : {"back", "belly"}
    units : {"metric", "imperial"}

    Raises
    ------
    LimbfeError
        If fewer than two states are given.
    """
    if len(steps) < 2:
        raise LimbfeError(
            f"first strain: {len(steps)} states of the draw: give at least two with their fields"
        )
    signed = abs(level) if face == "back" else -abs(level)
    draw = np.array([pose.draw_length for pose, _ in steps])
    fields = [whole_surface(assessment, surface) for _, surface in steps]
    last = fields[-1]
    strains = np.stack([face_map(f, face, f.x, ACROSS, f.axial_strain)[2] for f in fields])
    y = face_map(last, face, last.x, ACROSS, last.axial_strain)[0]
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        axes = figure.add_axes((MARGINS["left"], 0.36, MARGINS["right"] - MARGINS["left"], 0.42))
        edges = band_edges(float(draw[0]), float(draw[-1]), units)
        filled = _fill(axes, (last.x, y), strains / signed, draw, edges, units)
        _number_lines(axes, last.x, strains / signed, draw, edges, units)
        mark_grip(axes, assessment, units, 0.5)
        station_axis(axes, last, units)
        name_sides(axes)
        axes.set_ylabel(f"{face}, {labels.length_unit(units)[1]}")
        verb = "stretch" if face == "back" else "squeeze"
        figure.text(
            0.012, 0.965, f"Where the {face} first passes {100 * abs(level):.3g} % {verb}",
            va="top", fontsize=14, fontweight="bold",
        )  # fmt: skip
        bar = figure.colorbar(
            filled, cax=figure.add_axes((0.3, 0.12, 0.4, 0.035)), orientation="horizontal",
            spacing="proportional", ticks=edges / labels.length_unit(units)[0], format="%.3g",
        )  # fmt: skip
        sign = labels.length_unit(units)[1]
        bar.set_label(f"draw length at which it does, {sign} (blank: not by full draw)")
        bar.outline.set_visible(False)
    return figure


def write_first_strain(
    assessment: Assessment,
    path: str | os.PathLike[str],
    steps: Sequence[tuple[Pose, SurfaceField]],
    level: float,
    **options: Any,
) -> Path:
    """Write `draw_first_strain` as PNG and return the path."""
    return theme.save_figure(draw_first_strain(assessment, steps, level, **options), path)


def band_edges(first: float, last: float, units: labels.Units) -> Array:
    """Return draw lengths (m) that part the draw into some seven bands, round but for the ends."""
    unit, _ = labels.length_unit(units)
    steps = np.array(INCHES) * unit if units == "imperial" else np.array(STEPS)
    step = float(steps[np.argmin(np.abs(np.log(steps * BANDS / (last - first))))])
    inner = step * np.arange(np.ceil(first / step), np.floor(last / step) + 1)
    clear = (inner > first + 0.5 * step) & (inner < last - 0.25 * step)
    edges: Array = np.concatenate([[first], inner[clear], [last]])
    return edges


def _strain_at(strain: Array, draw: Array, at: float) -> Array:
    """Return the strain (k, ...) at one draw length between the states."""
    after = int(np.clip(np.searchsorted(draw, at), 1, len(draw) - 1))
    share = (at - draw[after - 1]) / (draw[after] - draw[after - 1])
    between: Array = (1.0 - share) * strain[after - 1] + share * strain[after]
    return between


def _fill(
    axes: Axes,
    face: tuple[Array, Array],
    relative: Array,
    draw: Array,
    edges: Array,
    units: labels.Units,
) -> Any:
    """Fill what is past the level at each draw length, latest first; early bands end up on top.

    `relative` is the strain over the level, so that 1 is the line in every band.
    """
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import BoundaryNorm

    unit, _ = labels.length_unit(units)
    x, y = face[0] / unit, face[1] / unit
    along = np.broadcast_to(x[:, None], y.shape)
    colours = theme.darkening().reversed()
    norm = BoundaryNorm(edges / unit, colours.N)
    for low, high in reversed(list(pairwise(edges))):
        field = _strain_at(relative, draw, float(high))
        if field.max() > 1.0:
            colour = colours(norm(0.5 * (low + high) / unit))
            axes.contourf(along, y, field, [1.0, np.inf], colors=[colour])
            axes.contour(along, y, field, [1.0], colors=theme.INK, linewidths=0.7)
    for edge in (y[:, 0], y[:, -1]):
        axes.plot(x, edge, color=theme.INK, lw=1.0)
    widest = 1.15 * np.abs(y).max()
    axes.set_ylim(-widest, widest)
    axes.yaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
    return ScalarMappable(norm, colours)


def _number_lines(
    axes: Axes, x: Array, relative: Array, draw: Array, edges: Array, units: labels.Units
) -> None:
    """Write its draw length where each line crosses the middle, on the tip's side."""
    unit, _ = labels.length_unit(units)
    middle = relative[:, :, relative.shape[2] // 2]
    passing = first_passing(draw, middle, 1.0)
    for side in (x < 0.0, x > 0.0):
        taken: list[float] = []
        for edge in edges[1:]:
            inside = np.flatnonzero(side & (passing <= edge))
            if not len(inside):
                continue
            place = float(x[inside[np.argmax(np.abs(x[inside]))]])
            if all(abs(place - other) > 0.02 * (x[-1] - x[0]) for other in taken):
                taken.append(place)
                axes.text(
                    place / unit, 0.0, f"{edge / unit:.3g}", rotation=90, ha="center",
                    va="center", fontsize=9.5,
                    bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 0.8},
                )  # fmt: skip
