"""Strength used of one zone against its size, its place or the draw length."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.failure.verdict import SOUND_TYPICAL, Verdict
from limbfe.frames import Array
from limbfe.view import labels, theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 10.0, 6.2
MARKS: dict[str, tuple[str, str]] = {
    "sound": ("o", theme.PAPER),
    "watch": ("o", "own"),
    "expect a split": ("X", "own"),
    "expect rupture": ("s", "own"),
}
"""Marker of every verdict and how it is filled; "own" is the colour of its line."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SweepLine:
    """One line of the family.

    Attributes
    ----------
    value : float or None, m
        What is constant along it; None for a line that is alone.
    typical, low, high : ndarray, shape (n,)
        Strength used; nan where it was not judged.
    crushing : ndarray, shape (n,), or None
        Strength used of crushing, where it is another line; shown when the line is alone.
    verdicts : tuple of str, length n
        Empty where it was not judged.
    """

    value: float | None
    typical: Array
    low: Array
    high: Array
    crushing: Array | None
    verdicts: tuple[Verdict | str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SweepPicture:
    """What a sweep's picture shows.

    Attributes
    ----------
    title, measure : str
        What the strength is used for: "to break".
    along : str
        Name of the horizontal axis.
    x : ndarray, shape (n,), m
    own : float, m
        What the case itself has.
    family : str
        Name of what differs from line to line; empty for one line.
    lines : tuple of SweepLine
    """

    title: str
    measure: str
    along: str
    x: Array
    own: float
    family: str
    lines: tuple[SweepLine, ...]


def draw_sweep(picture: SweepPicture, *, units: labels.Units = "metric") -> Figure:
    """Return strength used against what was varied, each line marked by its verdicts."""
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        axes = figure.add_axes((0.075, 0.11, 0.8 if picture.family else 0.905, 0.73))
        unit, sign = labels.length_unit(units)
        colours = _colours(len(picture.lines))
        for line, colour in zip(picture.lines, colours, strict=True):
            _plot_line(axes, picture.x / unit, line, colour)
        _limits(axes, picture, unit)
        if picture.family:
            _name_lines(axes, picture, units, colours)
        axes.set(
            xlabel=f"{picture.along}, {sign}",
            ylabel=f"strength used {picture.measure} (1 = expected)",
        )
        figure.text(0.015, 0.975, picture.title, va="top", fontsize=14, fontweight="bold")
        _key(figure, picture)
    return figure


def write_sweep(picture: SweepPicture, path: str | os.PathLike[str], **options: Any) -> Path:
    """Write `draw_sweep` as PNG and return the path."""
    return theme.save_figure(draw_sweep(picture, **options), path)


def _colours(count: int) -> list[Any]:
    """Return one colour a line, from dark to light so that neighbours can be told in grey."""
    from matplotlib import colormaps

    if count == 1:
        return [theme.BACK]
    return [colormaps["viridis"](share) for share in np.linspace(0.05, 0.82, count)]


def _plot_line(axes: Axes, x: Array, line: SweepLine, colour: Any) -> None:
    if line.value is None:
        axes.fill_between(x, line.low, line.high, color=colour, alpha=0.16, lw=0)
        if line.crushing is not None:
            axes.plot(x, line.crushing, color=theme.BELLY, lw=1.8, ls="-.")
    axes.plot(x, line.typical, color=colour, lw=2.4)
    verdicts = np.array(line.verdicts)
    for verdict, (marker, face) in MARKS.items():
        here = verdicts == verdict
        fill = colour if face == "own" else face
        axes.plot(x[here], line.typical[here], ls="", marker=marker, ms=8.5, mfc=fill, mec=colour,
                  mew=1.8)  # fmt: skip


def _limits(axes: Axes, picture: SweepPicture, unit: float) -> None:
    """Mark where failure is expected, where a zone is no longer sound, and the case's own."""
    shown = [line.high if line.value is None else line.typical for line in picture.lines]
    top = max(1.12, 1.08 * float(np.nanmax(shown)))
    axes.set_ylim(0.0, top)
    axes.axhline(1.0, color=theme.INK, lw=1.6)
    axes.axhline(SOUND_TYPICAL, color=theme.FAINT, lw=1.4, ls="--")
    # One above its line, one below: apart however high the axis reaches.
    said = (
        (1.0, f"1: expected {picture.measure}", 4, "bottom"),
        (SOUND_TYPICAL, "sound only below", -5, "top"),
    )
    for level, text, off, side in said:
        axes.annotate(
            text, xy=(1.0, level), xycoords=("axes fraction", "data"), xytext=(-6, off),
            textcoords="offset points", ha="right", va=side, color=theme.INK, fontsize=9.5,
            bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 0.8, "alpha": 0.8},
        )  # fmt: skip
    low, high = picture.x.min() / unit, picture.x.max() / unit
    own = picture.own / unit
    if low - 1e-9 <= own <= high + 1e-9:
        axes.axvline(own, color=theme.FAINT, lw=1.2, ls=":")
        axes.annotate(
            "as in the case", xy=(own, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3),
            textcoords="offset points", color=theme.FAINT, ha="center", va="bottom", fontsize=9.5,
        )  # fmt: skip
    margin = 0.03 * (high - low)
    axes.set_xlim(low - margin, high + margin)


def _name_lines(axes: Axes, picture: SweepPicture, units: labels.Units, colours: list[Any]) -> None:
    """Name every line beside its end, moved apart where they would overlap."""
    x, top = axes.get_xlim()[1], axes.get_ylim()[1]
    ends = np.array([line.typical[np.isfinite(line.typical)][-1] for line in picture.lines])
    at = labels.spread_labels(ends, 0.048 * top, 0.02 * top, 0.96 * top)
    for line, end, level, colour in zip(picture.lines, ends, at, colours, strict=True):
        assert line.value is not None
        axes.annotate(
            f" {labels.length_text(line.value, units)}", xy=(x, end), xytext=(x, level),
            color=colour, va="center", fontweight="bold", annotation_clip=False,
        )  # fmt: skip
    axes.annotate(
        picture.family, xy=(1.0, 1.0), xycoords="axes fraction", xytext=(0, 8),
        textcoords="offset points", va="bottom", color=theme.INK,
    )  # fmt: skip


def _key(figure: Figure, picture: SweepPicture) -> None:
    """Explain the markers in use, and the band, in one row above the plot."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    used = {verdict for line in picture.lines for verdict in line.verdicts}
    handles: list[Any] = []
    for verdict, (marker, face) in MARKS.items():
        if verdict in used:
            fill = theme.INK if face == "own" else face
            handles.append(
                Line2D([], [], ls="", marker=marker, ms=8.5, mfc=fill, mec=theme.INK, mew=1.8,
                       label=verdict)
            )  # fmt: skip
    if not picture.family:
        handles.append(Patch(color=theme.BACK, alpha=0.16, lw=0, label="band of what is uncertain"))
        if picture.lines[0].crushing is not None:
            handles.append(
                Line2D([], [], color=theme.BELLY, lw=1.8, ls="-.", label="belly wrinkles")
            )
    figure.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(0.075, 0.925), ncols=len(handles),
        handletextpad=0.5, columnspacing=1.2, fontsize=9.5,
    )  # fmt: skip
