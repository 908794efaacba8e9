"""Thickness now and to reach along both limbs, and what the change does to the wood."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.stave.columns import column_curve
from limbfe.view import labels, theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 13.0, 7.2
SAMPLES = 600
LETTER = 0.0083
"""Width of a letter of a zone's name, as a share of the bow's length."""
FADE_SHOWN = 1.6
"""The fades into the grip are cut off at this many times the middling thickness of the limbs."""
TO_TAKE = "#d98c4a"
"""Colour of the wood still to come off."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizeView:
    """What the picture shows, SI.

    Attributes
    ----------
    title : str
    x : ndarray, shape (n,), m
        Stations, lower tip to upper tip.
    now, reach : ndarray, shape (n,), m
        Thickness.
    free : ndarray of bool, shape (n,)
        Stations outside the stiff grip; their change is written beside them.
    stiff_length : float, m
    used_x : ndarray, shape (S,), m
    used_now, used_after : ndarray, shape (S,)
        Strength used in clear wood; nan inside the grip.
    zones : tuple of (float, str)
        Station (m, signed) and name of every knot and patch.
    """

    title: str
    x: Array
    now: Array
    reach: Array
    free: NDArray[np.bool_]
    stiff_length: float
    used_x: Array
    used_now: Array
    used_after: Array
    zones: tuple[tuple[float, str], ...]


def draw_size(view: SizeView, *, units: labels.Units = "metric") -> Figure:
    """Return thickness (above) and strength used (below) along both limbs."""
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        thickness, used = figure.subplots(2, 1, sharex=True, height_ratios=(1.35, 1.0))
        figure.subplots_adjust(left=0.07, right=0.985, top=0.94, bottom=0.1, hspace=0.2)
        unit, sign = labels.length_unit(units)
        for axes in (thickness, used):
            theme.mark_grip(axes, 0.5 * view.stiff_length / unit)
        _plot_thickness(thickness, view, units)
        _plot_used(used, view, unit)
        ends = view.x[[0, -1]] / unit
        used.set_xlim(ends[0] - 0.012 * np.ptp(ends), ends[1] + 0.012 * np.ptp(ends))
        used.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
        used.set_xlabel(f"from the middle of the grip, {sign}")
        for at, words in ((0.0, "lower limb"), (1.0, "upper limb")):
            side = "left" if at == 0.0 else "right"
            place = {"transform": used.transAxes, "ha": side, "va": "top"}
            used.text(at, -0.155, words, fontsize=11, **place)
    return figure


def write_size(
    view: SizeView, path: str | os.PathLike[str], *, units: labels.Units = "metric"
) -> Path:
    """Write `draw_size` as PNG and return the path."""
    return theme.save_figure(draw_size(view, units=units), path)


def _plot_thickness(axes: Axes, view: SizeView, units: labels.Units) -> None:
    unit, sign = labels.length_unit(units)
    x = np.linspace(view.x[0], view.x[-1], SAMPLES)
    now, reach = (column_curve(view.x, t, size=True)(x) / unit for t in (view.now, view.reach))
    at = x / unit
    axes.fill_between(at, reach, now, where=now > reach, color=TO_TAKE, alpha=0.75, lw=0)
    axes.fill_between(
        at, now, reach, where=reach > now, facecolor="none", edgecolor=theme.BELLY, hatch="////",
        lw=0.0,
    )  # fmt: skip
    axes.plot(at, now, color=theme.FAINT, ls=(0, (5, 2)), label="now")
    axes.plot(at, reach, color=theme.INK, lw=2.4, label="to reach")
    axes.plot(view.x / unit, view.reach / unit, "o", ms=5.5, mfc=theme.PAPER, mec=theme.INK)
    on_limb = np.concatenate([view.now[view.free], view.reach[view.free]]) / unit
    low = float(on_limb.min())
    high = min(float(on_limb.max()), FADE_SHOWN * float(np.median(on_limb)))
    room = 0.16 * (high - low)
    digits, share = (1, 0.027) if units == "metric" else (3, 0.05)
    for k in spaced(view.x, view.free, share * float(np.ptp(view.x))):
        words = _change_words(float(view.now[k] - view.reach[k]) / unit, digits)
        top = max(float(view.now[k]), float(view.reach[k])) / unit
        axes.annotate(
            words, xy=(view.x[k] / unit, top), xytext=(0, 6), textcoords="offset points",
            ha="center", fontsize=11, fontweight="bold",
        )  # fmt: skip
    axes.set(ylim=(low - room, high + 2.0 * room), ylabel=f"thickness, {sign}")
    axes.set_title(view.title)
    handles, names = axes.get_legend_handles_labels()
    from matplotlib.patches import Patch

    handles.append(Patch(color=TO_TAKE, alpha=0.75))
    names.append(f"to take off, {sign}")
    if np.any(view.reach > view.now + 5e-5):
        handles.append(Patch(facecolor="none", edgecolor=theme.BELLY, hatch="////"))
        names.append("not enough wood")
    axes.legend(handles, names, loc="lower center", ncols=len(names), fontsize=11)


def spaced(x: Array, wanted: NDArray[np.bool_], room: float) -> list[int]:
    """Return the wanted stations, tips inwards, that keep at least `room` (m) from each other."""
    kept: list[int] = []
    for k in sorted(np.flatnonzero(wanted), key=lambda k: -abs(float(x[k]))):
        if all(abs(float(x[k] - x[j])) >= room for j in kept):
            kept.append(int(k))
    return sorted(kept)


def _change_words(change: float, digits: int) -> str:
    words = f"{change:.{digits}f}"
    return "0" if float(words) == 0.0 else words.replace("-", "\N{MINUS SIGN}")


def _plot_used(axes: Axes, view: SizeView, unit: float) -> None:
    x = view.used_x / unit
    axes.plot(x, view.used_now, color=theme.FAINT, ls=(0, (5, 2)), label="now")
    axes.plot(x, view.used_after, color=theme.BACK, lw=2.4, label="when sized")
    axes.fill_between(x, view.used_after, color=theme.BACK, alpha=0.18, lw=0)
    axes.axhline(1.0, color=theme.INK, lw=1.4)
    top = max(1.2, 1.1 * float(np.nanmax([view.used_now, view.used_after])))
    _name_zones(axes, view, unit, top)
    axes.set(ylim=(0.0, top), ylabel="strength used")
    axes.set_title("Strength used in clear wood at full draw (1: bears no more)")
    axes.legend(loc="lower center", ncols=2, fontsize=11)


def _name_zones(axes: Axes, view: SizeView, unit: float, top: float) -> None:
    """Name every zone beside its line, one above another where names would run together."""
    letter = LETTER * float(np.ptp(view.x)) / unit
    ends = view.x[[0, -1]] / unit
    width = np.array([(len(name) + 2) * letter for _, name in view.zones])
    at = np.array([x / unit for x, _ in view.zones])
    left = at + width > ends[1]
    rows = labels.stack_labels(at - width * left, width)
    for k, (_, name) in enumerate(view.zones):
        axes.axvline(at[k], color=theme.KNOT, lw=1.2, ls=":")
        axes.text(
            at[k], (0.06 + 0.085 * rows[k]) * top, f" {name} ", color=theme.KNOT, fontsize=10.5,
            fontweight="bold", ha="right" if left[k] else "left", zorder=5,
            bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 0.5, "alpha": 0.85},
        )  # fmt: skip
