"""How a braced bow vibrates: its slowest modes, seen from the side and from behind."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from limbfe.frames import Array
from limbfe.view import theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from limbfe.analysis.shot.results import Shots

SHOWN = 6
SWING = 0.12
"""Of the largest movement, as a share of the bow's height."""
IN_PLANE = 0.5
"""Share of the movement's square from which a mode counts as one in the plane of the draw."""


def draw_modes(shots: Shots, path: Path) -> None:
    """Write the picture of the slowest modes of the braced bow."""
    theme.save_figure(modes_picture(shots), path)


def modes_picture(shots: Shots) -> Figure:
    """Return one small view for each mode, from the side if it swings there, else from behind."""
    solved, modes = shots.solved, shots.modes
    braced = solved.braced
    rest = np.asarray(braced.positions)
    turned = np.einsum("nij,knj->kni", braced.rotations, modes.nodes[:, :, :3])
    count = min(SHOWN, len(modes.frequency))
    tall = float(np.ptp(rest[:, 2]))
    with theme.typography():
        figure = theme.new_figure(1.75 * count, 5.2)
        figure.text(
            0.015, 0.975, "The braced bow, touched: how it rings (grip held; grey: at rest)",
            va="top", fontsize=13, fontweight="bold",
        )  # fmt: skip
        for k in range(count):
            string = np.concatenate([modes.ends[k, :1], modes.points[k], modes.ends[k, 1:]])
            moved = np.concatenate([turned[k], string])
            side = bool((moved[:, 0] ** 2).sum() >= IN_PLANE * (moved[:, :2] ** 2).sum())
            swing = SWING * tall / float(np.abs(moved).max())
            axes = figure.add_axes((k / count, 0.02, 1.0 / count, 0.78))
            _view(axes, rest, turned[k] * swing, theme.WOOD_TONES[0], side)
            _view(axes, modes.string, string * swing, theme.STRING, side)
            axes.set(aspect="equal")
            axes.set_axis_off()
            where = "from the side" if side else "from behind"
            axes.set_title(f"{modes.frequency[k]:.0f} Hz\n{where}", fontsize=11)
    return figure


def _view(axes: Axes, rest: Array, moved: Array, colour: str, side: bool) -> None:
    """Draw a line at rest and at either end of its swing."""
    across = 0 if side else 1
    sign = -1.0 if side else 1.0
    axes.plot(sign * rest[:, across], rest[:, 2], color=theme.RULE, lw=3.0)
    for way, style in ((1.0, "-"), (-1.0, (0, (4, 2)))):
        at = rest + way * moved
        axes.plot(sign * at[:, across], at[:, 2], color=colour, lw=1.8, ls=style)
