"""The shot in slow motion: limbs, string and arrow from the side."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.drawn import Pose
from limbfe.beam.shot.lying import string_line
from limbfe.frames import Array
from limbfe.view import theme
from limbfe.view.bow.film import FRAME_SECONDS, Image, check_film, save_film

if TYPE_CHECKING:
    from limbfe.analysis.shot.results import ShotResult, Shots
    from limbfe.stave.stave import Stave
    from limbfe.units import UnitSystem

WIDTH, HEIGHT = 7.4, 7.0
BETWEEN = 0.5e-3
"""Time between two frames, s."""
SLOWER = round(FRAME_SECONDS / BETWEEN)
OVERHANG = 0.03
"""Arrow in front of the bow at full draw where the case does not give its length, m."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Instant:
    """One moment of a shot, global axes: the arrow flies towards -X; m.

    Attributes
    ----------
    time : float, s
        Since the release.
    pose : Pose
        Of limbs and string.
    arrow : ndarray, shape (2, 3), or None
        Nock and point.
    """

    time: float
    pose: Pose
    arrow: Array | None


def instants(shots: Shots, one: ShotResult, between: float = BETWEEN) -> list[Instant]:
    """Return the moments of a shot, evenly spaced in time, the states before them taken."""
    shot, record = one.shot, one.shot.record
    model = shots.solved.model
    given = shots.shooting.arrow_length
    length = shots.solved.full_draw.draw_length + OVERHANG if given is None else given
    moments = []
    for time in np.arange(0.0, float(shot.time[-1]), between):
        k = int(np.searchsorted(shot.time, time, side="right")) - 1
        string = string_line(shot.model, record.motion(k))
        arrow = None
        if shot.left is not None:
            nock = shot.nocking[k]
            if k > shot.left:
                flown = one.shot.speed * (shot.time[k] - shot.time[shot.left])
                nock = shot.nocking[shot.left] - np.array([flown, 0.0, 0.0])
            arrow = np.stack([nock, nock - np.array([length, 0.0, 0.0])])
        pose = Pose(
            name="shot",
            draw_length=0.0,
            node_x=model.node_x,
            positions=record.positions[k],
            rotations=record.rotations[k],
            string=string,
        )
        moments.append(Instant(time=float(shot.time[k]), pose=pose, arrow=arrow))
    return moments


def side_outline(moment: Instant, stave: Stave) -> Array:
    """Return the limbs' outline from the side, up the back and down the belly, shape (2 n, 2)."""
    pose = moment.pose
    half = 0.5 * np.interp(pose.node_x, stave.x, stave.thickness)[:, None]
    out = half * pose.rotations[:, :, 2]
    return seen(np.concatenate([pose.positions + out, (pose.positions - out)[::-1]]))


def seen(points: Array) -> Array:
    """Return points from the archer's right, the target to the right, shape (n, 2)."""
    return np.stack([-points[:, 0], points[:, 2]], axis=-1)


def shot_frames(shots: Shots, one: ShotResult, units: UnitSystem) -> list[Image]:
    """Return the pictures of the film."""
    moments = instants(shots, one)
    stave = shots.solved.model.setup.stave
    limbs = [side_outline(moment, stave) for moment in moments]
    strings = [seen(moment.pose.string) for moment in moments]
    both = np.concatenate([*limbs, *strings])
    low, high = both.min(axis=0), both.max(axis=0)
    room = 0.05 * (high[1] - low[1])
    # some way for the arrow to fly before it is out of the picture
    right = max(high[0] + 0.35, low[0] + 0.9 * (high[1] - low[1]))
    frames: list[Image] = []
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        axes = figure.add_axes((0.0, 0.0, 1.0, 0.86))
        axes.set(xlim=(low[0] - room, right), ylim=(low[1] - room, high[1] + room), aspect="equal")
        axes.set_axis_off()
        axes.fill(*limbs[0].T, color=theme.RULE, lw=0)
        axes.plot(*strings[0].T, color=theme.RULE, lw=1.2)
        (wood,) = axes.fill(*limbs[0].T, color=theme.WOOD_TONES[0], ec=theme.INK, lw=0.8)
        (string_line,) = axes.plot([], [], color=theme.STRING, lw=1.6)
        (arrow_line,) = axes.plot([], [], color=theme.INK, lw=2.4, solid_capstyle="butt")
        arrow_line.set_clip_on(False)  # it flies on to the picture's edge
        figure.text(0.03, 0.965, shot_title(one, units), va="top", fontsize=14, fontweight="bold")
        clock = figure.text(0.03, 0.905, "", va="top", fontsize=12)
        canvas: Any = figure.canvas
        for moment, limb, string in zip(moments, limbs, strings, strict=True):
            wood.set_xy(limb)
            string_line.set_data(*string.T)
            if moment.arrow is not None:
                arrow_line.set_data(*seen(moment.arrow).T)
            clock.set_text(f"{1e3 * moment.time:4.1f} ms, {SLOWER} times slower")
            canvas.draw()
            frames.append(_pixels(canvas))
    return frames


def _pixels(canvas: Any) -> NDArray[np.uint8]:
    """Return what is drawn, with even sides, as films want them."""
    image: NDArray[np.uint8] = np.asarray(canvas.buffer_rgba())[..., :3]
    return image[: image.shape[0] // 2 * 2, : image.shape[1] // 2 * 2].copy()


def shot_title(one: ShotResult, units: UnitSystem) -> str:
    """Return what is shown, with the speed; without an arrow the caution."""
    if one.time is None:
        return "Let go without an arrow: never do this"
    arrow, speed = units.show("arrow", one.arrow), units.show("speed", one.shot.speed)
    return f"An arrow of {arrow} leaves at {speed}"


def write_shot_film(shots: Shots, path: str | os.PathLike[str], units: UnitSystem) -> Path:
    """Write the first arrow's shot, or the dry release, as a GIF or a video by the suffix.

    Raises
    ------
    LimbfeError
        If the suffix is another, or a package for it is missing.
    """
    check_film(path)
    one = shots.shots[0] if shots.shots else shots.dry
    assert one is not None
    return save_film(shot_frames(shots, one, units), path)
