"""The fan of draw curves, where breaks start along the limbs, the chance against draw length."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.curves import spline
from limbfe.frames import Array
from limbfe.view import labels, theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 10.0, 9.4
_PIECE = {"metric": (0.05, "5 cm"), "imperial": (0.0508, "2 in")}
"""Length (m) of limb for which starts are counted."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChancePicture:
    """What the picture shows, as `limbfe.studies.chance.results.Chance` has it, SI."""

    title: str
    draw_length: float
    held: float | None
    fan: Mapping[str, Array]
    place: Array
    starts: Array
    by_draw: Mapping[str, Array]


def draw_chance(picture: ChancePicture, *, units: labels.Units = "metric") -> Figure:
    """Return the three plots, one above the other."""
    unit, sign = labels.length_unit(units)
    newton, force_sign = labels.force_unit(units)
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        figure.text(0.015, 0.983, picture.title, va="top", fontsize=14, fontweight="bold")
        curves, chance, starts = (
            figure.add_axes((0.09, low, 0.875, 0.225)) for low in (0.69, 0.375, 0.065)
        )
        _fan(curves, picture, unit, newton)
        curves.set_title("draw curves: the middle one, and where 9 of 10 such bows lie", loc="left")
        curves.set_ylabel(f"pull, {force_sign}")
        _chance(chance, picture, unit)
        chance.set_title("of 100 such bows, how many have failed by a draw length", loc="left")
        for axes in (curves, chance):
            axes.set_xlabel(f"draw length, {sign}")
            _marks(axes, picture, unit)
        long, words = _PIECE[units]
        _starts(starts, picture, unit, long)
        starts.set_title(
            f"of 100 breaks of clear wood, how many start within each {words}", loc="left"
        )
        starts.set_xlabel(f"from the middle of the grip, {sign}: lower limb left, upper right")
        starts.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
    return figure


def write_chance(picture: ChancePicture, path: str | os.PathLike[str], **options: Any) -> Path:
    """Write `draw_chance` as PNG and return the path."""
    return theme.save_figure(draw_chance(picture, **options), path)


def _fan(axes: Axes, picture: ChancePicture, unit: float, newton: float) -> None:
    fan = picture.fan
    length = fan["draw_length"]
    fine = np.linspace(length[0], length[-1], 120)
    low, middle, high = (spline(length, fan[name])(fine) / newton for name in
                         ("low", "middle", "high"))  # fmt: skip
    axes.fill_between(fine / unit, low, high, color=theme.BACK, alpha=0.25, lw=0)
    axes.plot(fine / unit, middle, color=theme.BACK, lw=2.0)
    axes.set_ylim(0.0, 1.05 * float(high.max()))
    axes.set_xlim(fine[0] / unit, fine[-1] / unit)


def _chance(axes: Axes, picture: ChancePicture, unit: float) -> None:
    by = picture.by_draw
    at = by["draw_length"] / unit
    axes.fill_between(
        at, 100 * by["any_low"], 100 * by["any_high"], color=theme.BELLY, alpha=0.3, lw=0
    )
    axes.plot(at, 100 * by["any"], color=theme.BELLY, lw=2.0, label="such bows")
    if picture.held is not None:
        axes.plot(at, 100 * by["all"], color=theme.FAINT, lw=1.5, ls="--",
                  label="not drawn before")  # fmt: skip
        axes.legend(fontsize=9, frameon=False, loc="upper left")
    axes.set_ylim(0.0, max(1.1 * 100 * float(by["any_high"].max()), 1.0))
    axes.set_xlim(at[0], at[-1])


def _marks(axes: Axes, picture: ChancePicture, unit: float) -> None:
    for at, words in ((picture.draw_length, "draw length"), (picture.held, "held")):
        if at is not None:
            axes.axvline(at / unit, color=theme.INK, lw=0.9, ls=":")
            axes.annotate(
                words, xy=(at / unit, 1.0), xycoords=("data", "axes fraction"), xytext=(3, -3),
                textcoords="offset points", fontsize=9, va="top",
            )  # fmt: skip


def _starts(axes: Axes, picture: ChancePicture, unit: float, piece: float) -> None:
    middle, long, height = start_density(picture.place, picture.starts, piece)
    axes.bar(middle / unit, height, width=long / unit, color=theme.BACK, lw=0)
    axes.set_xlim(picture.place[0] / unit, picture.place[-1] / unit)
    axes.set_ylim(0.0, 1.1 * max(float(height.max()), 1.0))


def start_density(place: Array, starts: Array, piece: float) -> tuple[Array, Array, Array]:
    """Return middles and lengths (m) of the elements, and the starts in 100 for every piece there.

    Parameters
    ----------
    place : ndarray, shape (2 e,), m
        Two Gauss points an element, which lie its length over the root of three apart.
    starts : ndarray, shape (2 e,)
        Shares.
    piece : float, m
    """
    pairs = place.reshape(-1, 2)
    long = np.sqrt(3.0) * np.diff(pairs, axis=1)[:, 0]
    height = 100.0 * starts.reshape(-1, 2).sum(axis=1) * piece / long
    return pairs.mean(axis=1), long, np.asarray(height)
