"""A pull on the long string: how far the limbs come down, and where one is stiff or weak."""

from __future__ import annotations

import os
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.view import labels, theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from limbfe.analysis.bow.long_string import LongStringPull

WIDTH, HEIGHT = 11.6, 10.6
ALIKE = 10.0
"""Per cent by which bending or stiffness may differ and still be called even."""
_NAMED = (2, 5, 9)
"""Tenths of the force, from 0, whose pulls are written beside the tips."""


def draw_pull(pulled: LongStringPull, title: str, *, units: labels.Units = "metric") -> Figure:
    """Return the limbs as they come down, their bending beside even limbs, and limb over limb."""
    unit, length = labels.length_unit(units)
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        rows = figure.subplots(3, 1, sharex=True, height_ratios=(1.7, 1.0, 0.8))
        figure.subplots_adjust(left=0.085, right=0.985, top=0.865, bottom=0.07, hspace=0.3)
        head = textwrap.shorten(f"Pulled on a long string: {title}", 84, placeholder=" ...")
        figure.text(0.015, 0.985, head, va="top", fontsize=15, fontweight="bold")
        figure.text(
            0.015, 0.951,
            f"{labels.force_text(pulled.force, units)} on a string of "
            f"{labels.length_text(pulled.string_length, units)}; the upper tip comes down "
            f"{labels.length_text(float(pulled.tip_movement[1]), units)}, the lower "
            f"{labels.length_text(float(pulled.tip_movement[0]), units)}",
            va="top",
        )  # fmt: skip
        _come_down(rows[0], pulled, units)
        _bending(rows[1], pulled, unit)
        _limb_over_limb(rows[2], pulled, unit)
        rows[2].set_xlabel(
            f"lower limb      distance from the middle of the grip, {length}      upper limb"
        )
        rows[2].xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
        edge = 0.11 * float(np.ptp(pulled.flex.x)) / unit
        rows[2].set_xlim(pulled.flex.x[0] / unit - edge, pulled.flex.x[-1] / unit + edge)
    return figure


def write_pull(
    pulled: LongStringPull, path: str | os.PathLike[str], title: str, **options: Any
) -> Path:
    """Write `draw_pull` as PNG and return the path."""
    return theme.save_figure(draw_pull(pulled, title, **options), path)


def _come_down(axes: Axes, pulled: LongStringPull, units: labels.Units) -> None:
    unit, length = labels.length_unit(units)
    flex = pulled.flex
    lower = int(np.count_nonzero(flex.x < 0.0))

    def with_grip(values: Any) -> Any:
        return np.insert(values, lower, 0.0)

    x = with_grip(flex.x) / unit
    shades = theme.darkening()(np.linspace(0.25, 0.95, len(flex.force)))
    for k, (down, force) in enumerate(zip(flex.down, flex.force, strict=True)):
        axes.plot(x, with_grip(down) / unit, "o-", color=shades[k], ms=3.5, lw=1.6)
        if k in _NAMED:
            for tip in (0, -1):
                axes.annotate(
                    labels.force_text(float(force), units), xy=(x[tip], down[tip] / unit),
                    xytext=(7 if tip else -7, 0), textcoords="offset points", va="center",
                    ha="left" if tip else "right", fontsize=10,
                )  # fmt: skip
    axes.plot(
        x, with_grip(flex.even_down) / unit, color=theme.BELLY, lw=2.2, ls=(0, (5, 3)),
        label="limbs that bend evenly, tips as far down",
    )  # fmt: skip
    axes.invert_yaxis()
    axes.set_ylabel(f"comes down by, {length}")
    axes.set_title("How far every station comes down, at tenths of the force")
    axes.legend(loc="lower center")


def _bending(axes: Axes, pulled: LongStringPull, unit: float) -> None:
    """Plot the skin's strain over that of an even limb; 100 is even."""
    flex = pulled.flex
    bars = 100.0 * flex.bending
    colours = [
        theme.BACK if one > 100.0 + ALIKE else theme.BELLY if one < 100.0 - ALIKE else theme.FAINT
        for one in bars
    ]
    width = 0.012 * float(np.ptp(flex.x)) / unit
    axes.bar(flex.x / unit, bars - 100.0, bottom=100.0, width=width, color=colours, zorder=3)
    axes.axhspan(100.0 - ALIKE, 100.0 + ALIKE, color=theme.RULE, alpha=0.6, lw=0)
    axes.axhline(100.0, color=theme.INK, lw=1.2)
    reach = max(float(np.abs(bars - 100.0).max()), 2.0 * ALIKE)
    axes.set_ylim(100.0 - 1.25 * reach, 100.0 + 1.25 * reach)
    for x, y in zip(flex.x / unit, bars, strict=True):
        if abs(y - 100.0) > ALIKE:
            axes.annotate(
                f"{y:.0f}", xy=(x, y), xytext=(0, 3 if y > 100.0 else -3), fontsize=10,
                textcoords="offset points", ha="center", va="bottom" if y > 100.0 else "top",
            )  # fmt: skip
    axes.set_ylabel("% of even")
    axes.set_title("Bending of the skin: above 100 the limb is weak there, below it is stiff")


def _limb_over_limb(axes: Axes, pulled: LongStringPull, unit: float) -> None:
    flex = pulled.flex
    more = 100.0 * (flex.stiffness - 1.0)
    upper = (flex.x > 0.0) & np.isfinite(more)
    lower = (flex.x < 0.0) & np.isfinite(more)
    width = 0.012 * float(np.ptp(flex.x)) / unit
    for side in (lower, upper):
        axes.bar(flex.x[side] / unit, more[side], width=width, color=theme.STRING, zorder=3)
    axes.axhline(0.0, color=theme.INK, lw=1.2)
    reach = max(float(np.nanmax(np.abs(more), initial=0.0)), ALIKE)
    axes.set_ylim(-1.2 * reach, 1.2 * reach)
    axes.set_ylabel("% stiffer")
    axes.set_title("Stiffness beside the other limb as far from the grip: above 0 it is stiffer")
