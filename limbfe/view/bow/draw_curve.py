"""The draw: force against draw length, and the bow bending as a film."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.frames import Array
from limbfe.view import labels, theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from limbfe.analysis.bow.drawn import DrawCurve, FirstPull
    from limbfe.analysis.results.assessment import Assessment

WIDTH, HEIGHT = 8.6, 5.4


def stiffness(curve: DrawCurve) -> Array:
    """Return how fast the force rises with the draw, N/m, at each state (shape (k,))."""
    slope: Array = np.gradient(curve.force, curve.draw_length, edge_order=2)
    return slope


def draw_curve(assessment: Assessment, *, units: labels.Units = "metric") -> Figure:
    """Return force against draw length from brace to full draw, the stored energy shaded."""
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        axes = figure.add_axes((0.1, 0.125, 0.795, 0.68))
        _plot_curve(axes, assessment, units)
        _second_axes(axes, units)
        figure.text(0.015, 0.975, "Draw curve", va="top", fontsize=14, fontweight="bold")
    return figure


def shown_first_pull(assessment: Assessment) -> FirstPull | None:
    """Return the first pull where it differs enough from the exercised bow's draw to be drawn."""
    first = assessment.drawn.first_pull
    if first is None or first.crushed < 0.01 * float(assessment.drawn.curve.energy[-1]):
        return None
    return first


def _plot_curve(axes: Axes, assessment: Assessment, units: labels.Units) -> None:
    curve = assessment.drawn.curve
    unit, sign = labels.length_unit(units)
    newton, force_sign = labels.force_unit(units)
    x, y = curve.draw_length / unit, curve.force / newton
    axes.fill_between(x, y, color=theme.BACK, alpha=0.15, lw=0)
    axes.plot(x, y, color=theme.BACK, lw=2.6)
    axes.plot(x[[0, -1]], y[[0, -1]], "o", ms=8, mfc=theme.PAPER, mec=theme.BACK, mew=2)
    axes.set(
        xlim=(0.0, 1.06 * x[-1]),
        ylim=(0.0, 1.14 * y.max()),
        xlabel=f"draw length from the back of the grip, {sign}",
        ylabel=f"force on the string, {force_sign}",
    )
    axes.annotate(
        f"braced\n{labels.length_text(float(curve.draw_length[0]), units)}",
        xy=(x[0], y[0]), xytext=(-10, 12), textcoords="offset points", ha="right",
    )  # fmt: skip
    weight = labels.force_text(float(curve.force[-1]), units)
    axes.annotate(
        f"{weight} at {labels.length_text(float(curve.draw_length[-1]), units)}",
        xy=(x[-1], y[-1]), xytext=(-12, 8), textcoords="offset points", ha="right",
        fontweight="bold", fontsize=12,
    )  # fmt: skip
    middle = float(np.interp(0.62, [0.0, 1.0], [x[0], x[-1]]))
    axes.text(
        middle, 0.32 * float(np.interp(middle, x, y)),
        f"work put in since brace\n{labels.energy_text(float(curve.energy[-1]), units)}",
        ha="center", va="center",
    )  # fmt: skip
    _plot_end_slope(axes, curve, (unit, newton), units)
    _plot_first_pull(axes, assessment, (unit, newton), units)


def _plot_first_pull(
    axes: Axes, assessment: Assessment, scale: tuple[float, float], units: labels.Units
) -> None:
    """Show how the bow drew before its belly had taken its set."""
    first = shown_first_pull(assessment)
    if first is None:
        return
    unit, newton = scale
    x, y = first.curve.draw_length / unit, first.curve.force / newton
    axes.plot(x, y, color=theme.BELLY, lw=1.6, ls="--")
    at = x[0] + 0.4 * (x[-1] - x[0])
    axes.annotate(
        f"first pull, before a set of {labels.set_text(assessment.set_depth, units)}",
        xy=(at, float(np.interp(at, x, y))), xytext=(-12, 12), ha="right",
        textcoords="offset points", fontsize=10, color=theme.BELLY,
    )  # fmt: skip


def _plot_end_slope(
    axes: Axes, curve: DrawCurve, scale: tuple[float, float], units: labels.Units
) -> None:
    """Say how fast the force climbs at full draw, which an archer feels as stacking."""
    unit, newton = scale
    slope = float(stiffness(curve)[-1])
    back = 0.16 * (curve.draw_length[-1] - curve.draw_length[0])
    end = np.array([curve.draw_length[-1] - back, curve.draw_length[-1] + 0.3 * back])
    line = curve.force[-1] + slope * (end - curve.draw_length[-1])
    axes.plot(end / unit, line / newton, color=theme.INK, lw=1.1, ls=":")
    step, name = labels.pull_step(units)
    axes.annotate(
        f"rises {labels.force_text(slope * step, units)} per {name} here;\nthe last eighth of the "
        f"draw adds {curve.last_eighth[1] / float(curve.force[-1]):.1%} of the weight",
        xy=(end[0] / unit, line[0] / newton), xytext=(-44, 4), textcoords="offset points",
        ha="right", fontsize=10,
    )  # fmt: skip


def _second_axes(axes: Axes, units: labels.Units) -> None:
    """Number the same curve in the other units on the top and right sides."""
    other: labels.Units = "metric" if units == "imperial" else "imperial"
    here, there = labels.length_unit(units), labels.length_unit(other)
    top = axes.secondary_xaxis("top", functions=_change(here[0] / there[0]))
    top.set_xlabel(there[1])
    force_here, force_there = labels.force_unit(units), labels.force_unit(other)
    right = axes.secondary_yaxis("right", functions=_change(force_here[0] / force_there[0]))
    right.set_ylabel(force_there[1])


def _change(ratio: float) -> tuple[Callable[[Any], Any], Callable[[Any], Any]]:
    return lambda value: value * ratio, lambda value: value / ratio
