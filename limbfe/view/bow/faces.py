"""Back and belly laid flat side by side: where across the width the limb is worked.

Width is drawn larger than length, since a limb is fifty times longer than wide; both axes are
numbered, so nothing is hidden by it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from limbfe.frames import Array
from limbfe.stave.knot import radius_at
from limbfe.stave.marks import signed_station
from limbfe.stave.profile import axis_at
from limbfe.view import labels, theme
from limbfe.view.bow.parts import face_map
from limbfe.view.bow.scene import whole_surface

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from limbfe.analysis.results.assessment import Assessment
    from limbfe.analysis.wood.hot_spots import HotSpot
    from limbfe.analysis.wood.stress import SurfaceField
    from limbfe.stave.decay import Decay
    from limbfe.stave.knot import Knot

Face = Literal["back", "belly"]
WIDTH, HEIGHT = 13.0, 6.2
MARGINS = {"left": 0.07, "right": 0.985}
LETTER, LINE = 0.0078, 0.17
"""Size of a letter of a name, as shares of the picture's length and of a face's height."""
ACROSS = np.linspace(-0.999, 0.999, 41)
AS_HARD = 0.97
"""Strength used over the most across a face, from which it is as hard worked."""
BENT = 2e-4
"""Sideways bend (m) from which the limb's middle line is drawn."""
BEYOND = (1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0)
"""Lines of strength used that are drawn and numbered."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace:
    """Where a knot or patch cuts a face.

    Attributes
    ----------
    x, y : ndarray, shape (n, k), m
        A local grid on the face.
    level : ndarray, shape (n, k)
        Below zero inside.
    """

    x: Array
    y: Array
    level: Array


def draw_faces(
    assessment: Assessment,
    *,
    result: Literal["strength_used", "axial_strain", "axial_stress"] = "strength_used",
    units: labels.Units = "metric",
) -> Figure:
    """Return back and belly as two filled maps with knots, patches and hot spots in place.

    Parameters
    ----------
    assessment : Assessment
    result : {"strength_used", "axial_strain", "axial_stress"}
    units : {"metric", "imperial"}
    """
    surface = whole_surface(assessment)
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        back, belly = figure.subplots(2, 1, sharex=True, sharey=True)
        figure.subplots_adjust(**MARGINS, top=0.82, bottom=0.25, hspace=0.46)
        panels: tuple[tuple[Axes, Face], ...] = ((back, "back"), (belly, "belly"))
        for axes, face in panels:
            _fill(axes, surface, face, result, units, off_centre(assessment, surface.x))
            mark_grip(axes, assessment, units, 0.5)
            _outline_defects(axes, assessment, surface, face, units)
        _label_spots(back, assessment, "back", units)
        _label_spots(belly, assessment, "belly", units)
        station_axis(belly, surface, units)
        figure.text(
            0.012, 0.975, "Back and belly at full draw", va="top", fontsize=14, fontweight="bold"
        )
        figure.text(
            0.985, 0.972, "width drawn larger than length; the belly as if seen through the back",
            va="top", ha="right",
            fontsize=10, color=theme.FAINT,
        )  # fmt: skip
        values = getattr(assessment.surface, result)
        theme.add_colour_bar(figure, result, values, (0.25, 0.085, 0.5, 0.025), units)
    return figure


def whole_width(surface: SurfaceField, spot: HotSpot) -> bool:
    """Return whether wood is worked as hard all across a hot spot's face: a flat one has no ridge.

    As hard is within `AS_HARD`, from edge to edge but for the outer tenth on either side.
    """
    if spot.face not in ("back", "belly"):
        return False
    at = [signed_station(spot.limb, spot.at)]
    inner = ACROSS[np.abs(ACROSS) < 0.8]
    _, _, values = face_map(surface, spot.face, at, inner, surface.strength_used)
    return bool(values.min() > AS_HARD * values.max())


def off_centre(assessment: Assessment, x: Array) -> Array:
    """Return how far the limb's middle lies to the archer's right at stations, shape of `x`, m."""
    flat = np.ravel(x)
    place, _ = axis_at(assessment.setup.stave, flat)
    aside: Array = place[:, 1].reshape(np.shape(x))
    return aside


def station_axis(axes: Axes, surface: SurfaceField, units: labels.Units) -> None:
    """Number the stations from the middle of the grip towards both tips."""
    unit, sign = labels.length_unit(units)
    low, high = surface.x[0] / unit, surface.x[-1] / unit
    axes.set_xlim(low - 0.01 * (high - low), high + 0.01 * (high - low))
    axes.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
    axes.set_xlabel(f"from the middle of the grip, {sign}")
    style: dict[str, Any] = {"transform": axes.transAxes, "va": "top", "fontsize": 11}
    foot = -0.115 * 1.5 / axes.get_window_extent().height * axes.figure.dpi
    axes.text(0.0, 2.0 * foot, "lower limb", ha="left", **style)
    axes.text(1.0, 2.0 * foot, "upper limb", ha="right", **style)


def mark_grip(axes: Axes, assessment: Assessment, units: labels.Units, level: float) -> None:
    """Shade the handle that does not bend, named at a height of the axes from 0 to 1."""
    half = assessment.setup.stave.half_grip / labels.length_unit(units)[0]
    theme.mark_grip(axes, half, level)


def knot_trace(knot: Knot, surface: SurfaceField, face: Face) -> Trace:
    """Return where a knot's cone cuts a face, on a local grid."""
    reach = 3.0 * max(knot.radius, knot.far_radius) + abs(knot.direction[0]) * knot.length
    middle = knot.entry[0] + 0.5 * knot.direction[0] * knot.length

    def level(points: Array) -> Array:
        offset = points - knot.entry
        along = offset @ knot.direction
        distance = np.linalg.norm(offset - along[..., None] * knot.direction, axis=-1)
        outside: Array = distance - radius_at(knot, along)
        return outside

    return _trace(surface, face, float(middle), float(reach), level)


def decay_trace(decay: Decay, surface: SurfaceField, face: Face) -> Trace:
    """Return where a patch of decay cuts a face, on a local grid."""

    def level(points: Array) -> Array:
        scaled = (points - decay.center) / decay.semi_axes
        outside: Array = np.sum(scaled**2, axis=-1) - 1.0
        return outside

    reach = 1.2 * float(decay.semi_axes[0])
    return _trace(surface, face, float(decay.center[0]), reach, level)


def _trace(
    surface: SurfaceField,
    face: Face,
    middle: float,
    reach: float,
    level: Callable[[Array], Array],
) -> Trace:
    x = np.clip(np.linspace(middle - reach, middle + reach, 121), surface.x[0], surface.x[-1])
    across = np.linspace(-0.999, 0.999, 121)
    y, z, _ = face_map(surface, face, x, across, surface.layer)
    grid = np.broadcast_to(x[:, None], y.shape)
    return Trace(x=grid, y=y, level=level(np.stack([grid, y, z], axis=-1)))


def _fill(
    axes: Axes,
    surface: SurfaceField,
    face: Face,
    result: str,
    units: labels.Units,
    aside: Array,
) -> None:
    unit, sign = labels.length_unit(units)
    field = getattr(surface, result) * theme.scale_of(result, units).factor
    y, _, values = face_map(surface, face, surface.x, ACROSS, field)
    y = y + aside[:, None]
    x = np.broadcast_to(surface.x[:, None], y.shape) / unit
    colours = theme.colour_map(result)
    if result == "strength_used":
        axes.contourf(x, y / unit, values, theme.USED_STEPS, cmap=colours, extend="max")
        if values.max() > 1.0:
            theme.hatch(
                axes.contourf(x, y / unit, values, [1.0, np.inf], hatches=["/"], colors="none")
            )
            lines = axes.contour(x, y / unit, values, BEYOND, colors=theme.PAPER, linewidths=1.3)
            axes.clabel(lines, fmt="%g", fontsize=9.5, inline_spacing=3)
    else:
        low, high = theme.value_range(result, getattr(surface, result), units)
        axes.pcolormesh(x, y / unit, values, shading="gouraud", cmap=colours, vmin=low, vmax=high)
    for edge in (y[:, 0], y[:, -1]):
        axes.plot(surface.x / unit, edge / unit, color=theme.INK, lw=1.0)
    if np.ptp(aside) > BENT:
        axes.plot(surface.x / unit, aside / unit, color=theme.INK, lw=1.0, ls=(0, (6, 4)))
    widest = 1.12 * np.abs(y).max() / unit
    axes.set(ylim=(-widest, widest), ylabel=f"{face}, {sign}")
    axes.yaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
    name_sides(axes)


def name_sides(axes: Axes, names: tuple[str, str] = ("archer's right", "archer's left")) -> None:
    """Say which side of a face laid flat is which: the upper, then the lower edge."""
    style: dict[str, Any] = {
        "transform": axes.transAxes,
        "ha": "right",
        "fontsize": 9,
        "color": theme.FAINT,
        "bbox": {"facecolor": theme.PAPER, "edgecolor": "none", "pad": 0.5, "alpha": 0.8},
    }
    axes.text(0.998, 0.985, names[0], va="top", **style)
    axes.text(0.998, 0.015, names[1], va="bottom", **style)


def _outline_defects(
    axes: Axes, assessment: Assessment, surface: SurfaceField, face: Face, units: labels.Units
) -> None:
    unit, _ = labels.length_unit(units)
    stave = assessment.setup.stave
    traces = [(k.name, knot_trace(k, surface, face), theme.KNOT, "knot") for k in stave.knots]
    traces += [(d.name, decay_trace(d, surface, face), theme.DECAY, "decay") for d in stave.decays]
    traces = [one for one in traces if one[1].level.min() < 0.0]
    for _, trace, colour, kind in traces:
        x, y = trace.x / unit, (trace.y + off_centre(assessment, trace.x)) / unit
        axes.contourf(x, y, trace.level, [-np.inf, 0.0], colors=[theme.PAPER], alpha=0.75)
        hatch = "////" if kind == "decay" else None
        if hatch:
            axes.contourf(x, y, trace.level, [-np.inf, 0.0], colors="none", hatches=[hatch])
        axes.contour(x, y, trace.level, [0.0], colors=colour, linewidths=2.0)
    _name_defects(
        axes,
        [f"{kind} {name}" for name, _, _, kind in traces],
        np.array([trace.x[trace.level < 0.0].max() for _, trace, _, _ in traces]) / unit,
        np.array(
            [
                (trace.y + off_centre(assessment, trace.x))[trace.level < 0.0].mean()
                for _, trace, _, _ in traces
            ]
        )
        / unit,
        [colour for _, _, colour, _ in traces],
    )


def _name_defects(axes: Axes, names: list[str], x: Array, y: Array, colours: list[str]) -> None:
    """Name every knot and decay to the right of it, moved up or down to keep clear of others."""
    low, high = axes.get_ylim()
    letter = LETTER * float(np.ptp(axes.get_xlim()))
    width = np.array([(len(name) + 1) * letter for name in names])
    level = y.copy()
    for group in labels.touching(x, width):
        level[group] = labels.spread_labels(y[group], LINE * (high - low), low, high)
    for k, name in enumerate(names):
        axes.annotate(
            name, xy=(float(x[k]), float(y[k])), xytext=(x[k] + letter, level[k]),
            textcoords="data", va="center", color=colours[k], fontsize=10.5, fontweight="bold",
            bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 1.2, "alpha": 0.85},
        )  # fmt: skip


def _label_spots(axes: Axes, assessment: Assessment, face: Face, units: labels.Units) -> None:
    """Label the worst hot spot of a face on each limb, above it."""
    unit, _ = labels.length_unit(units)
    spots = labels.chief_hot_spots(assessment, len(assessment.hot_spots))
    chosen = [spot for spot in spots if spot.face == face]
    stations = np.array([signed_station(s.limb, s.at) for s in chosen]) / unit
    low, high = assessment.drawn.poses[0].node_x[[0, -1]] / unit
    places = labels.spread_labels(stations, 0.22 * (high - low), 0.93 * low, 0.9 * high)
    level = 1.12 * axes.get_ylim()[1]
    surface = whole_surface(assessment)
    for spot, station, place in zip(chosen, stations, places, strict=True):
        x = np.array([station * unit])
        aside = float(off_centre(assessment, x)[0])
        text = labels.hot_spot_text(spot, units)
        if whole_width(surface, spot):
            y, _, _ = face_map(surface, face, x, ACROSS[[2, -3]], surface.strength_used)
            axes.plot(x[[0, 0]] / unit, (y[0] + aside) / unit, color=theme.INK, lw=2.2, zorder=5)
            text += ",\nacross the whole width"
            top = (float(station), float(y[0, -1] + aside) / unit)
            _mark_spot(axes, text, top, (float(place), level), marker="")
            continue
        at = (float(station), (spot.across + aside) / unit)
        _mark_spot(axes, text, at, (float(place), level))


def _mark_spot(
    axes: Axes,
    text: str,
    at: tuple[float, float],
    label_at: tuple[float, float],
    marker: str = "o",
) -> None:
    axes.plot(*at, marker=marker, ls="", ms=5.5, mfc=theme.PAPER, mec=theme.INK, mew=1.6, zorder=5)
    axes.annotate(
        text,
        xy=at,
        xytext=label_at,
        ha="center",
        va="bottom",
        fontsize=10.5,
        annotation_clip=False,
        arrowprops={"arrowstyle": "-", "color": theme.INK, "lw": 0.9, "shrinkB": 4, "shrinkA": 1},
    )
