"""A shot in time: where the energy is, what the string bears, how back and belly are strained."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from limbfe.view import theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from limbfe.analysis.shot.results import ShotResult, Shots
    from limbfe.units import UnitSystem

WIDTH, HEIGHT = 8.6, 8.2


def draw_shot(shots: Shots, path: Path, units: UnitSystem) -> None:
    """Write the picture of the first arrow's shot, or of the dry release."""
    from limbfe.view.theme import save_figure

    one = shots.shots[0] if shots.shots else shots.dry
    assert one is not None
    save_figure(shot_picture(one, units), path)


def shot_picture(one: ShotResult, units: UnitSystem) -> Figure:
    """Return three curves over time, one below the other."""
    shot, energy = one.shot, one.shot.energy
    time = 1e3 * shot.time
    joule, newton = units.scale("energy"), units.scale("force")
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        top, middle, low = (figure.add_axes((0.11, y, 0.84, 0.23)) for y in (0.67, 0.385, 0.065))
        bent = energy.limbs_bent - float(energy.limbs_bent.min())
        for values, words, style, colour in (
            *([] if one.time is None else [(energy.arrow, "arrow", "-", "C0")]),
            (bent, "limbs bent, above their least", "--", "C1"),
            (energy.limbs_moving, "limbs moving", "-.", "C2"),
            (energy.string_stretched + energy.string_moving, "string", ":", "C3"),
        ):
            top.plot(time, values / joule[0], style, color=colour, lw=1.8, label=words)
        top.set(ylabel=f"energy, {joule[1]}")
        middle.plot(time, shot.tension.max(axis=1) / newton[0], color=theme.BACK, lw=1.4)
        middle.set(ylabel=f"greatest tension\nof the string, {newton[1]}")
        strains = one.strains
        low.plot(time, 100 * strains.back.max(axis=1), "-", lw=1.6, label="back, most stretched")
        low.plot(time, 100 * strains.belly.min(axis=1), "--", lw=1.6, label="belly, most shortened")
        low.plot(
            time, 100 * strains.stretched.max(axis=1), ":", lw=1.8,
            label="belly, beyond unstrung",
        )  # fmt: skip
        low.set(ylabel="strain, %", xlabel="time since the release, ms")
        for axes in (top, middle, low):
            axes.set_xlim(0.0, float(time[-1]))
            if one.time is not None:
                axes.axvline(1e3 * one.time, color="0.5", lw=1.0)
        for axes in (top, low):
            axes.legend(
                frameon=False, fontsize=9, ncols=4, loc="lower left", bbox_to_anchor=(0.0, 0.98)
            )
        words = "Let go without an arrow: never do this"
        if one.time is not None:
            arrow = units.show("arrow", one.arrow)
            words = f"An arrow of {arrow} leaves at {1e3 * one.time:.1f} ms, the grey line"
        figure.text(0.015, 0.975, words, va="top", fontsize=14, fontweight="bold")
    return figure
