"""The stave's back and side with the bow in it."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from limbfe.view import labels, theme
from limbfe.view.stave.view import StaveView

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 15.0, 5.4
STEEP = 0.05
"""Slope of grain cut across, 1 in 20, from which it is marked."""
STYLES = ("--", ":", "-.")


def write_back(view: StaveView, path: str | os.PathLike[str], units: labels.Units) -> Path:
    """Write the stave's back as PNG and return the path."""
    return theme.save_figure(draw_back(view, units), path)


def write_side(view: StaveView, path: str | os.PathLike[str], units: labels.Units) -> Path:
    """Write the stave's side as PNG and return the path."""
    return theme.save_figure(draw_side(view, units), path)


def draw_back(view: StaveView, units: labels.Units = "metric") -> Figure:
    """Return the back: edges, knots, checks, lines, outlines, where grain is cut across."""
    log, laid = view.log, view.laid
    unit, sign = labels.length_unit(units)
    with theme.typography():
        figure, axes = _axes(f"{view.title}: the back", sign)
        x = np.linspace(0.0, log.length, 401)
        left, right = log.edges(x)
        axes.fill_between(x / unit, left / unit, right / unit, color="#ecd3a0", lw=0, alpha=0.6)
        for edge in (left, right):
            axes.plot(x / unit, edge / unit, color=theme.FAINT, lw=1.4)
        axes.axhline(0.0, color=theme.STRING, lw=0.9, ls=(0, (8, 4)), label="snapped line")
        order = np.argsort(laid.x)
        at, offset = laid.x[order], laid.offset[order]
        half = 0.5 * laid.width[order] * np.hypot(1.0, view.line.offset_at(at, 1))
        for (name, side, _), style in zip(view.stages, STYLES, strict=False):
            for way in (-1.0, 1.0):
                # where the stave is too narrow its own edge is the line, as in the table
                rough = np.clip(offset + way * (half + side), *log.edges(at))
                axes.plot(
                    at / unit, rough / unit, color=theme.BELLY, ls=style,
                    lw=1.2, label=name if way > 0.0 else None,
                )  # fmt: skip
        for way in (-1.0, 1.0):
            axes.plot(
                at / unit, (offset + way * half) / unit, color=theme.INK, lw=2.2,
                label="finished limb" if way > 0.0 else None,
            )  # fmt: skip
        axes.plot(at / unit, offset / unit, color=theme.BACK, lw=1.8, label="centre line")
        for k, line in enumerate(view.others):
            t = np.linspace(*line.nocks, 201)
            axes.plot(
                t / unit, line.offset_at(t) / unit, color=theme.GHOST, lw=1.2, ls=STYLES[k % 3],
                label=f"{('second', 'third')[k % 2]} layout",
            )  # fmt: skip
        slope = np.abs(np.tan(laid.sideways_slope) + np.tan(laid.spiral))[order]
        steep = slope > STEEP
        if np.any(steep):
            axes.fill_between(
                at / unit, (offset - half) / unit, (offset + half) / unit, where=steep,
                hatch="////", facecolor="none", edgecolor=theme.DECAY, lw=0,
                label="grain cut across, over 1 in 20",
            )  # fmt: skip
        _marks(axes, view, unit)
        axes.axvline(view.line.grip / unit, color=theme.FAINT, lw=1.0, ls=":")
        axes.text(
            view.line.grip / unit, 0.02, "grip", transform=axes.get_xaxis_transform(), fontsize=10
        )
        _ends(axes, view, unit)
        axes.invert_yaxis()
        axes.set_ylabel(f"right (below) or left of the line, {sign}")
        axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.17), ncols=5, fontsize=10)
    return figure


def draw_side(view: StaveView, units: labels.Units = "metric") -> Figure:
    """Return the side: back profile, thickness lines, sapwood, pith."""
    log, laid = view.log, view.laid
    unit, sign = labels.length_unit(units)
    with theme.typography():
        figure, axes = _axes(f"{view.title}: from the side, back up", sign)
        x = np.linspace(0.0, log.length, 401)
        back = log.at("rise", x)
        depth = log.at("depth", x)
        axes.fill_between(
            x / unit, (back - depth) / unit, back / unit, color="#ecd3a0", lw=0, alpha=0.6
        )
        if log.bark > 0.0:
            axes.fill_between(
                x / unit, back / unit, (back + log.bark) / unit, color=theme.GRIP, lw=0, alpha=0.35,
                label="bark",
            )  # fmt: skip
        axes.plot(x / unit, back / unit, color=theme.INK, lw=2.0, label="back")
        if np.any(log.sapwood > 0.0):
            axes.plot(
                x / unit, (back - log.at("sapwood", x)) / unit, color=theme.DECAY, lw=1.2,
                label="sapwood ends",
            )  # fmt: skip
        if log.round:
            axes.plot(
                x / unit, (back - log.at("pith", x)) / unit, color=theme.KNOT, lw=1.4, ls="-.",
                label="pith",
            )  # fmt: skip
        order = np.argsort(laid.x)
        at = laid.x[order]
        top, thick = log.at("rise", at), laid.thickness[order]
        for (name, _, belly), style in zip(view.stages, STYLES, strict=False):
            axes.plot(
                at / unit, (top - thick - belly) / unit, color=theme.BELLY, ls=style, lw=1.2,
                label=name,
            )  # fmt: skip
        axes.plot(at / unit, (top - thick) / unit, color=theme.INK, lw=2.2, label="finished belly")
        _ends(axes, view, unit)
        axes.set_ylabel(f"from the straight edge, {sign}")
        axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.17), ncols=6, fontsize=10)
    return figure


def _axes(title: str, sign: str) -> tuple[Figure, Axes]:
    figure = theme.new_figure(WIDTH, HEIGHT)
    axes = figure.subplots()
    figure.subplots_adjust(left=0.06, right=0.985, top=0.91, bottom=0.27)
    axes.set_title(title)
    axes.set_xlabel(f"from the butt, {sign} (the other way enlarged)")
    return figure, axes


def _ends(axes: Axes, view: StaveView, unit: float) -> None:
    for nock, start, end in zip(
        view.line.nocks,
        (0.0, view.line.nocks[1]),
        (view.line.nocks[0], view.log.length),
        strict=True,
    ):
        axes.axvspan(start / unit, end / unit, color=theme.RULE, alpha=0.5, lw=0)
        axes.axvline(nock / unit, color=theme.INK, lw=1.0)
    up = view.line.upper_end
    place = 0.0 if up == "butt" else view.log.length
    axes.text(
        place / unit, 0.03, "this end up", transform=axes.get_xaxis_transform(), fontsize=10,
        ha="left" if up == "butt" else "right", va="bottom", zorder=6,
        bbox={"facecolor": theme.PAPER, "edgecolor": "none", "pad": 1.5, "alpha": 0.8},
    )  # fmt: skip


def _marks(axes: Axes, view: StaveView, unit: float) -> None:
    from matplotlib.patches import Ellipse
    from matplotlib.patheffects import withStroke

    log = view.log
    for mark in log.marks:
        faces = dict(zip(("left", "right"), log.edges(mark.x, mark.across), strict=True))
        y = float(faces[mark.face]) if mark.face in faces else mark.across
        size = mark.diameter / unit
        filled = mark.name not in view.gone
        axes.add_patch(
            Ellipse(
                (mark.x / unit, y / unit), size * 1.6, size, zorder=4, lw=1.6,
                facecolor=theme.KNOT if filled else "none", edgecolor=theme.KNOT,
            )
        )  # fmt: skip
        # beside the wood where the knot shows on a side: outlines run through what stands within
        down = {"left": 12, "right": -18}.get(mark.face, 4)
        axes.annotate(
            mark.name if filled else f"{mark.name} (gone)", (mark.x / unit, y / unit),
            xytext=(9, down), textcoords="offset points", color=theme.KNOT, fontweight="bold",
            fontsize=10.5, zorder=5,
            path_effects=[withStroke(linewidth=3.0, foreground=theme.PAPER)],
        )  # fmt: skip
    for patch in log.patches:
        axes.add_patch(
            Ellipse(
                (patch.x / unit, patch.across / unit), patch.length / unit, patch.width / unit,
                facecolor=theme.DECAY, alpha=0.5, hatch="xx", zorder=4,
            )
        )  # fmt: skip
        axes.annotate(
            patch.name if patch.name not in view.gone else f"{patch.name} (cut away)",
            (patch.x / unit, patch.across / unit), xytext=(10, -14),
            textcoords="offset points", color=theme.DECAY, fontweight="bold", zorder=5,
            path_effects=[withStroke(linewidth=3.0, foreground=theme.PAPER)],
        )  # fmt: skip
    for crack in log.cracks:
        ends = np.array([crack.start, crack.end]) / unit
        across = np.array([crack.across, crack.across_end]) / unit
        axes.plot(ends, across, color="#7a1f1f", lw=3.0, zorder=5, label="check")
