"""A fit at a glance: the readings on the fitted draw curve, and where the limb is stiff or soft."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.frames import Array
from limbfe.units import unit_system
from limbfe.view import labels, theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 10.2, 8.4
BOUND = 1.96
"""Standard deviations to either side that hold 95 in 100."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FitPicture:
    """What the picture of a fit shows, in SI.

    Attributes
    ----------
    title : str
    moduli : tuple of (str, float, float, float)
        Each wood's name and its modulus with its bounds, Pa.
    curve : ndarray, shape (k, 3)
        Draw length, force and its standard deviation.
    forces : ndarray, shape (f, 4)
        Draw length, force, its standard deviation, and 1 for a suspect reading.
    stations : ndarray, shape (s, 4)
        Station (negative on the lower limb), stiffness over that of the dimensions, and bounds.
    findings : tuple of str, length s
        "stiffer", "softer", "as measured" or "not known".
    grip, lower, upper : float
        Half the stiff grip, and both tips.
    """

    title: str
    moduli: tuple[tuple[str, float, float, float], ...]
    curve: Array
    forces: Array
    stations: Array
    findings: tuple[str, ...]
    grip: float
    lower: float
    upper: float


def fit_picture(fit: FitPicture, *, units: labels.Units = "metric") -> Figure:
    """Return the draw curve with its readings above the stiffness along both limbs."""
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        figure.text(0.012, 0.985, fit.title, va="top", fontsize=15, fontweight="bold")
        figure.text(0.012, 0.943, _moduli(fit, units), va="top", fontsize=12)
        _plot_curve(figure.add_axes((0.085, 0.535, 0.885, 0.345)), fit, units)
        _plot_stations(figure.add_axes((0.085, 0.085, 0.885, 0.345)), fit, units)
    return figure


def write_fit(fit: FitPicture, path: str | os.PathLike[str], **options: Any) -> Path:
    """Write `fit_picture` as PNG and return the path."""
    return theme.save_figure(fit_picture(fit, **options), path)


def _moduli(fit: FitPicture, units: labels.Units) -> str:
    factor, sign = unit_system(units).scale("modulus")
    parts = []
    for wood, *values in fit.moduli:
        value, low, high = (v / factor for v in values)
        name = "" if len(fit.moduli) == 1 else f"{wood} "
        parts.append(f"{name}{value:.2f} {sign} ({low:.2f} to {high:.2f})")
    return f"E_L, and where 95 in 100 lie: {', '.join(parts)}"


def _plot_curve(axes: Axes, fit: FitPicture, units: labels.Units) -> None:
    unit, sign = labels.length_unit(units)
    newton, force_sign = labels.force_unit(units)
    x, y, wide = (fit.curve / [unit, newton, newton / BOUND]).T
    axes.fill_between(x, y - wide, y + wide, color=theme.BACK, alpha=0.25, lw=0)
    axes.plot(x, y, color=theme.BACK, lw=2.4, label="fitted bow")
    read = fit.forces
    for bad, marker, colour, name in (
        (False, "o", theme.INK, "read, with its scatter"),
        (True, "X", theme.STRING, "suspect"),
    ):
        part = read[read[:, 3] == bad]
        if len(part):
            axes.errorbar(
                part[:, 0] / unit, part[:, 1] / newton, yerr=BOUND * part[:, 2] / newton,
                fmt=marker, ms=7 if not bad else 11, color=colour, ecolor=colour, capsize=4,
                elinewidth=1.4, label=name,
            )  # fmt: skip
    axes.set(
        xlim=(x[0] - 0.02 * np.ptp(x), x[-1] + 0.03 * np.ptp(x)),
        ylim=(0.0, 1.12 * max(y.max(), read[:, 1].max() / newton)),
        xlabel=f"draw length from the back of the grip, {sign}",
        ylabel=f"force on the string, {force_sign}",
        title="Force read and computed",
    )
    axes.legend(loc="upper left")


def _plot_stations(axes: Axes, fit: FitPicture, units: labels.Units) -> None:
    """Plot each station's stiffness over that of its dimensions, with the bounds as bars."""
    unit, sign = labels.length_unit(units)
    axes.axhline(1.0, color=theme.INK, lw=1.2)
    for finding, marker, colour, name in (
        ("stiffer", "^", theme.BACK, "stiffer than measured"),
        ("softer", "v", theme.BELLY, "softer than measured"),
        ("as measured", "o", theme.INK, "as measured"),
        ("not known", "o", theme.FAINT, "the readings do not say"),
    ):
        at = np.array([one == finding for one in fit.findings])
        if not at.any():
            continue
        x, ratio, low, high = fit.stations[at].T
        hollow = finding == "not known"
        bars = np.stack([ratio - low, high - ratio]).tolist()  # 3.8 warns of a row of one number
        axes.errorbar(
            x / unit, ratio, yerr=bars, fmt=marker, ms=9, color=colour,
            mfc=theme.PAPER if hollow else colour, ecolor=colour, capsize=4, elinewidth=1.6,
            label=name,
        )  # fmt: skip
    half = fit.grip / unit
    reach = max(float(np.abs(fit.stations[:, 2:] - 1.0).max()), 0.1)
    if half > 0.0:
        axes.axvspan(-half, half, color=theme.RULE, lw=0)
        axes.text(0.0, 1.0 + 0.9 * reach, "grip", ha="center", va="center")
    axes.set(
        xlim=(1.03 * fit.lower / unit, 1.03 * fit.upper / unit),
        ylim=(1.0 - 1.12 * reach, 1.0 + 1.5 * reach),  # the legend lies above the longest bar
        xlabel=f"lower limb      distance from the middle of the grip, {sign}      upper limb",
        ylabel="stiffness over measured",
        title="Where the limb is stiffer or softer than its dimensions say (bars: 95 in 100)",
    )
    axes.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
    axes.legend(loc="upper left", ncols=4, columnspacing=1.2, handletextpad=0.3)
