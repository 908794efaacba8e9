"""Draw weight, set, strength used and breaking draw length against moisture."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.frames import Array
from limbfe.view import labels, theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 10.0, 6.6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MoisturePicture:
    """What the picture shows; arrays of shape (n,), nan where there is nothing.

    Attributes
    ----------
    title : str
    moisture : per cent
    own : float or None, per cent
    draw_weight : N
    set_upper, set_lower, breaking_draw : m
    draw_length : float, m
    tension, compression : strength used
    """

    title: str
    moisture: Array
    own: float | None
    draw_weight: Array
    set_upper: Array
    set_lower: Array
    tension: Array
    compression: Array
    breaking_draw: Array
    draw_length: float


def draw_moisture(picture: MoisturePicture, *, units: labels.Units = "metric") -> Figure:
    """Return four small plots above one another's moisture."""
    unit, sign = labels.length_unit(units)
    newton, force_sign = labels.force_unit(units)
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        weight, kept, used, breaking = (
            figure.add_axes((left, low, 0.4, 0.335))
            for low in (0.535, 0.085)
            for left in (0.075, 0.575)
        )
        _plot(
            weight, picture, f"draw weight, {force_sign}", (picture.draw_weight / newton, "", "o")
        )
        _plot(
            kept, picture, f"set, {sign}",
            (picture.set_upper / unit, "upper limb", "o"),
            (picture.set_lower / unit, "lower limb", "s"),
        )  # fmt: skip
        _plot(
            used, picture, "strength used at full draw",
            (picture.tension, "tension", "o"),
            (picture.compression, "compression", "s"),
        )  # fmt: skip
        _plot(
            breaking, picture, f"clear wood breaks at, {sign}",
            (picture.breaking_draw / unit, "", "o"),
        )  # fmt: skip
        used.axhline(1.0, color=theme.INK, lw=0.9, ls="--")
        breaking.axhline(picture.draw_length / unit, color=theme.INK, lw=0.9, ls="--")
        breaking.annotate(
            "draw length", xy=(picture.moisture[0], picture.draw_length / unit), xytext=(2, 4),
            textcoords="offset points", fontsize=9,
        )  # fmt: skip
        for axes in (used, breaking):
            axes.set_xlabel("moisture of the wood, %")
        figure.text(0.015, 0.975, picture.title, va="top", fontsize=14, fontweight="bold")
        if picture.own is not None:
            figure.text(
                0.985, 0.97, f"dotted: the case's own {picture.own:.3g} %",
                va="top", ha="right", fontsize=10, color=theme.FAINT,
            )  # fmt: skip
    return figure


def write_moisture(picture: MoisturePicture, path: str | os.PathLike[str], **options: Any) -> Path:
    """Write `draw_moisture` as PNG and return the path."""
    return theme.save_figure(draw_moisture(picture, **options), path)


def _plot(axes: Axes, picture: MoisturePicture, name: str, *lines: tuple[Array, str, str]) -> None:
    for (values, label, mark), colour in zip(lines, (theme.BACK, theme.BELLY), strict=False):
        axes.plot(
            picture.moisture, values, mark + "-", color=colour, lw=2.0, ms=5, mfc=theme.PAPER,
            label=label or None,
        )  # fmt: skip
    if picture.own is not None:
        axes.axvline(picture.own, color=theme.FAINT, lw=1.0, ls=":")
    shown = np.concatenate([values for values, _, _ in lines])
    highest = float(np.max(shown, where=~np.isnan(shown), initial=0.0)) or 1.0
    axes.set_ylim(0.0, 1.18 * highest)
    axes.set_title(name, fontsize=11, loc="left")
    if lines[0][1]:
        axes.legend(fontsize=9, frameon=False, loc="lower right")
