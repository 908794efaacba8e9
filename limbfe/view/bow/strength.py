"""Strain and strength used along both limbs, with every knot and patch where it lies."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from limbfe.analysis.wood.strain_limits import limb_limits
from limbfe.frames import Array
from limbfe.stave.marks import signed_station
from limbfe.view import labels, theme
from limbfe.view.bow.faces import MARGINS, WIDTH, mark_grip, station_axis
from limbfe.view.bow.scene import whole_surface

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from limbfe.analysis.results.assessment import Assessment
    from limbfe.analysis.zones.zone_verdict import ZoneVerdict

HEIGHT = 6.4
LETTER = 0.0085
"""Width of a letter beside a knot or decay, as a share of the bow's length."""
LINES = 0.18
"""Height of its two lines, as a share of the axes' height."""


def draw_strength(assessment: Assessment, *, units: labels.Units = "metric") -> Figure:
    """Return strength used (above) and strain of back and belly (below) along both limbs."""
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        used, strain = figure.subplots(2, 1, sharex=True, height_ratios=(1.15, 1.0))
        figure.subplots_adjust(**MARGINS, top=0.93, bottom=0.105, hspace=0.2)
        for axes in (used, strain):
            mark_grip(axes, assessment, units, 0.9)
        _plot_used(used, assessment, units)
        _plot_strain(strain, assessment, units)
        station_axis(strain, whole_surface(assessment), units)
    return figure


def _plot_used(axes: Axes, assessment: Assessment, units: labels.Units) -> None:
    unit, _ = labels.length_unit(units)
    limb = assessment.limb
    x = limb.x / unit
    highs = [defect.strength_used_high for defect in assessment.zones]
    top = max(1.15, 1.08 * float(limb.strength_used.max()), 1.05 * max(highs, default=0.0))
    axes.set(ylim=(0.0, top), ylabel="strength used")
    axes.fill_between(x, limb.strength_used, color=theme.BACK, alpha=0.22, lw=0)
    axes.plot(x, limb.strength_used, color=theme.BACK)
    axes.axhline(1.0, color=theme.INK, lw=1.4)
    axes.text(
        0.004, 1.0, "bears no more", transform=axes.get_yaxis_transform(), va="bottom",
        fontsize=10, bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 1.0},
    )  # fmt: skip
    axes.fill_between(
        x, 1.0, limb.strength_used, where=limb.strength_used > 1.0, facecolor="none",
        edgecolor=theme.BACK, hatch="xx", lw=0.0,
    )  # fmt: skip
    _plot_defects(axes, assessment.zones, unit, (float(x[0]), float(x[-1])))
    room = 0.07 * float(np.ptp(x))
    nearest = assessment.setup.stave.half_grip / unit + room
    farthest = float(min(-x[0], x[-1])) - room
    for mask in (limb.x < 0, limb.x > 0):
        worst = np.flatnonzero(mask)[np.argmax(limb.strength_used[mask])]
        at = (float(x[worst]), float(limb.strength_used[worst]))
        axes.plot(*at, "o", ms=5.5, mfc=theme.PAPER, mec=theme.BACK, mew=1.6, zorder=6)
        axes.annotate(
            f"{at[1]:.2f} in clear wood",
            xy=at,
            xytext=(np.copysign(np.clip(abs(at[0]), nearest, farthest), at[0]), 0.05 * top),
            ha="center",
            color=theme.BACK,
            fontsize=10.5,
            arrowprops={"arrowstyle": "-", "color": theme.BACK, "lw": 0.9, "shrinkB": 4},
        )
    axes.set_title("Strength used: the worst of each station, and knots and decay")


def _plot_defects(
    axes: Axes, defects: tuple[ZoneVerdict, ...], unit: float, ends: tuple[float, float]
) -> None:
    """Plot every zone with its name; those whose names would run together are named beside."""
    low, high = ends
    x = np.array([signed_station(d.limb, d.at) / unit for d in defects])
    words = [f"{defect.kind} {defect.name}\n{defect.verdict}" for defect in defects]
    letters = [max(map(len, text.split("\n"))) + 1 for text in words]
    width = LETTER * (high - low) * np.array(letters)
    for defect, at in zip(defects, x, strict=True):
        _plot_defect(axes, defect, float(at))
    for group in labels.touching(x - 0.5 * width, width):
        if len(group) == 1:
            defect, at = defects[group[0]], float(x[group[0]])
            # Below its bar: above lie limit and curve; unless the bar stands on the floor.
            under = defect.strength_used_low > 0.3 * axes.get_ylim()[1]
            to = defect.strength_used_low if under else defect.strength_used_high
            _name_defect(
                axes, defect, words[group[0]], (at, to), (at, to), offset=-9 if under else 9
            )
            continue
        used = np.array([defects[k].strength_used for k in group])
        top = axes.get_ylim()[1]
        level = labels.spread_labels(used, LINES * top, LINES * top, top - 0.5 * LINES * top)
        margin = 2.0 * LETTER * (high - low)
        side = 1 if x[group].max() + margin + width[group].max() <= high else -1
        beside = float((x[group] * side).max()) * side + side * margin
        for k, y in zip(group, level, strict=True):
            at = (float(x[k]), defects[k].strength_used)
            _name_defect(axes, defects[k], words[k], at, (beside, float(y)), side=side)


def _look(defect: ZoneVerdict) -> tuple[str, str]:
    return (theme.KNOT, "D") if defect.kind == "knot" else (theme.DECAY, "s")


def _plot_defect(axes: Axes, defect: ZoneVerdict, x: float) -> None:
    colour, shape = _look(defect)
    below = defect.strength_used - defect.strength_used_low
    above = defect.strength_used_high - defect.strength_used
    axes.errorbar(
        x, defect.strength_used, yerr=[[below], [above]], fmt=shape, ms=8, mfc=theme.PAPER,
        mec=colour, mew=2.0, ecolor=colour, elinewidth=1.8, capsize=5, capthick=1.8, zorder=5,
    )  # fmt: skip


def _name_defect(
    axes: Axes,
    defect: ZoneVerdict,
    words: str,
    at: tuple[float, float],
    place: tuple[float, float],
    *,
    offset: float = 0.0,
    side: int = 0,
) -> None:
    """Write `words` at a place: above or below it by `offset` points, or on one side of it."""
    colour, _ = _look(defect)
    axes.annotate(
        words,
        xy=at,
        xytext=(0.0, offset) if offset else place,
        textcoords="offset points" if offset else "data",
        ha={1: "left", -1: "right"}.get(side, "center"),
        va="center" if side else "top" if offset < 0 else "bottom",
        color=colour,
        fontsize=10.5,
        fontweight="bold",
        bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 1.0, "alpha": 0.85},
        zorder=7,
        arrowprops={"arrowstyle": "-", "color": colour, "lw": 0.9, "shrinkB": 6} if side else None,
    )


def _plot_strain(axes: Axes, assessment: Assessment, units: labels.Units) -> None:
    unit, _ = labels.length_unit(units)
    limb, limits = assessment.limb, limb_limits(assessment.setup.stave, assessment.hot_spots)
    x = limb.x / unit
    axes.plot(x, 100 * limb.back_strain, color=theme.BACK)
    axes.plot(x, 100 * limb.belly_strain, color=theme.BELLY, ls=(0, (6, 2)))
    axes.axhline(0.0, color=theme.FAINT, lw=0.8)
    reach_up = 125 * max(limits.back, float(limb.back_strain.max()))
    reach_down = 130 * max(limits.belly_wrinkles, float(-limb.belly_strain.min()))
    axes.set(ylim=(-reach_down, reach_up), ylabel="strain, %")
    lines = (
        (100 * limits.back, theme.BACK, "back: clear wood breaks"),
        (-100 * limits.belly_set, theme.BELLY, "belly: takes a set beyond this"),
        (-100 * limits.belly_wrinkles, theme.BELLY, "belly: wrinkles (frets) may show"),
    )
    clear = 0.045 * (reach_up + reach_down)
    for value, colour, text in lines:
        axes.axhline(value, color=colour, lw=1.2, ls=":")
        level = value + np.copysign(clear, value)
        curve = limb.back_strain if value > 0 else limb.belly_strain
        lower = limb.x < 0.0
        place = clearest_place(x[lower], 100 * curve[lower], level, 0.42)
        axes.text(place, level, text, ha="center", va="center", color=colour, fontsize=10)
    _name_curve(axes, x, 100 * limb.back_strain, "back, stretched", theme.BACK, 1)
    _name_curve(axes, x, 100 * limb.belly_strain, "belly, squeezed", theme.BELLY, -1)
    axes.set_title("Strain along the limb at full draw")


def clearest_place(x: Array, values: Array, level: float, share: float) -> float:
    """Return the middle of the stretch of a curve that keeps farthest from a level.

    Parameters
    ----------
    x, values : ndarray, shape (n,)
        The curve, x increasing.
    level : float
        Height at which words are to stand.
    share : float
        Width of the words, as a share of the width of the curve.
    """
    half = 0.5 * share * (x[-1] - x[0])
    middles = np.linspace(x[0] + half, x[-1] - half, 81)
    stretch = np.linspace(-half, half, 41)
    distance = np.abs(np.interp(middles[:, None] + stretch, x, values) - level).min(axis=1)
    return float(middles[np.argmax(distance)])


def _name_curve(axes: Axes, x: Array, values: Array, name: str, colour: str, side: int) -> None:
    at = int(np.argmin(np.abs(x - 0.62 * x[-1])))
    axes.annotate(
        name,
        xy=(float(x[at]), float(values[at])),
        xytext=(0, 7 * side),
        textcoords="offset points",
        ha="center",
        va="bottom" if side > 0 else "top",
        color=colour,
        fontsize=10.5,
    )
