"""The draw as a film: the bow bending while the force climbs its curve."""

from __future__ import annotations

import os
import textwrap
from collections.abc import Sequence
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import LimbfeError
from limbfe.frames import Array
from limbfe.view import labels, theme
from limbfe.view.bow.scene import Frame, add_bow, fill_frame, look_from_left
from limbfe.view.probe import require_rendering
from limbfe.whole_file import whole_file

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from limbfe.analysis.bow.drawn import Pose
    from limbfe.analysis.results.assessment import Assessment
    from limbfe.analysis.wood.stress import SurfaceField

Image = NDArray[np.uint8]
BOW, CURVE = (520, 760), (440, 420)
TITLE_LETTERS, SCALE_LETTERS = 40, 38
"""In a line of the title and of the scale's name: what their column is wide."""
FRAME_SECONDS, LAST_SECONDS = 0.08, 1.6


def write_film(
    assessment: Assessment,
    path: str | os.PathLike[str],
    steps: Sequence[tuple[Pose, SurfaceField | None]],
    *,
    result: theme.Result = "strength_used",
    units: labels.Units = "metric",
) -> Path:
    """Write the draw as a GIF, or as a video when the suffix says so.

    Parameters
    ----------
    assessment : Assessment
    path : path-like
        Ending in ``.gif``; ``.mp4`` needs the package imageio with its ffmpeg plugin.
    steps : sequence of (Pose, SurfaceField or None)
        States from brace to full draw.  Where the fields are None the limb is in wood tones.
    result : {"strength_used", "axial_strain", "axial_stress", "wood"}
    units : {"metric", "imperial"}

    Raises
    ------
    LimbfeError
        If the suffix is another, a package for it is missing, there are no states, or nothing
        here can draw.
    """
    check_film(path)
    if not steps:
        raise LimbfeError(f"film {path}: no states of the draw were given; give at least one")
    require_rendering()
    return save_film(draw_frames(assessment, steps, result=result, units=units), path)


def save_film(frames: list[Image], path: str | os.PathLike[str]) -> Path:
    """Write pictures of one size as a GIF, or as a video when the suffix says so."""
    with whole_file(path) as partial:
        if Path(path).suffix.lower() == ".gif":
            _write_gif(frames, partial)
        else:
            _write_video(frames, partial)
    return Path(path)


def check_film(path: str | os.PathLike[str]) -> None:
    """Refuse a film of a kind that cannot be written here; the remedy is in the message."""
    suffix = Path(path).suffix.lower()
    if suffix not in (".gif", ".mp4"):
        raise LimbfeError(f"film {path}: ends in {suffix!r}; name it .gif or .mp4")
    if suffix == ".mp4" and not (find_spec("imageio") and find_spec("imageio_ffmpeg")):
        raise LimbfeError(
            f"film {path}: the packages imageio and imageio-ffmpeg are not installed; "
            "`pip install imageio imageio-ffmpeg` (the extra `movie`) brings them, or name the "
            "film .gif"
        )


def draw_frames(
    assessment: Assessment,
    steps: Sequence[tuple[Pose, SurfaceField | None]],
    *,
    result: theme.Result = "strength_used",
    units: labels.Units = "metric",
) -> list[Image]:
    """Return the pictures of the film, each of shape (760, 960, 3)."""
    bows = _bow_images(assessment, steps, result)
    coloured = result if any(fields is not None for _, fields in steps) else "wood"
    draw_lengths = [pose.draw_length for pose, _ in steps]
    background, dots = _curve_image(assessment, draw_lengths, coloured, units)
    frames = []
    for (pose, _), bow, dot in zip(steps, bows, dots, strict=True):
        force = float(np.interp(pose.draw_length, *_curve(assessment)))
        frames.append(_compose(assessment, (bow, background), dot, (pose, force), units))
    return frames


def film_frame(steps: Sequence[tuple[Pose, SurfaceField | None]]) -> Frame:
    """Return the least part of the side view that holds every state."""
    parts = [pose.positions for pose, _ in steps]
    parts += [pose.string for pose, _ in steps if len(pose.string)]
    points = np.concatenate(parts)
    low, high = points.min(axis=0), points.max(axis=0)
    margin = 0.03 * (high[2] - low[2])
    frame = Frame(
        left=float(low[0] - margin),
        right=float(high[0] + margin),
        bottom=float(low[2] - margin),
        top=float(high[2] + margin),
    )
    return fill_frame(frame, BOW[0] / BOW[1])


def _bow_images(
    assessment: Assessment,
    steps: Sequence[tuple[Pose, SurfaceField | None]],
    result: theme.Result,
) -> list[Image]:
    """Return the side view of every state; the meshes are made once and moved."""
    import pyvista as pv

    frame = film_frame(steps)
    plotter: Any = pv.Plotter(off_screen=True, window_size=list(BOW))
    plotter.set_background(theme.PAPER)
    images = []
    for pose, fields in steps:
        shown: theme.Result = "wood" if fields is None else result
        add_bow(plotter, assessment, pose, shown, fields)
        look_from_left(plotter, frame)
        plotter.render()
        images.append(np.array(plotter.screenshot(return_img=True)))
    plotter.close()
    return images


def _curve(assessment: Assessment) -> tuple[Array, Array]:
    return assessment.drawn.curve.draw_length, assessment.drawn.curve.force


def _curve_image(
    assessment: Assessment,
    draw_lengths: Sequence[float],
    result: theme.Result,
    units: labels.Units,
) -> tuple[Image, list[tuple[float, float]]]:
    """Return the empty draw curve and where on it each state lies, in pixels from the top left."""
    unit, sign = labels.length_unit(units)
    newton, force_sign = labels.force_unit(units)
    draw, force = _curve(assessment)
    with theme.typography():
        width, height = CURVE[0] / theme.DOTS_PER_INCH, CURVE[1] / theme.DOTS_PER_INCH
        figure = theme.new_figure(width, height)
        axes = figure.add_axes((0.17, 0.15, 0.78, 0.56))
        axes.plot(draw / unit, force / newton, color=theme.BACK, lw=2.4)
        axes.set(xlim=(0, 1.05 * draw[-1] / unit), ylim=(0, 1.1 * force.max() / newton))
        axes.set_xlabel(f"draw length, {sign}", fontsize=9)
        axes.set_ylabel(f"force, {force_sign}", fontsize=9)
        axes.tick_params(labelsize=8)
        if result != "wood":
            _add_scale(figure, assessment, result, units)
        canvas: Any = figure.canvas
        canvas.draw()
        at = np.asarray(draw_lengths)
        points = np.stack([at / unit, np.interp(at, draw, force) / newton], axis=-1)
        pixels = axes.transData.transform(points)
        image = np.asarray(canvas.buffer_rgba())[..., :3].copy()
    return image, [(float(x), float(image.shape[0] - y)) for x, y in pixels]


def _add_scale(
    figure: Figure, assessment: Assessment, result: theme.Result, units: labels.Units
) -> None:
    values = getattr(assessment.surface, result)
    bar = theme.add_colour_bar(figure, result, values, (0.17, 0.9, 0.78, 0.035), units)
    bar.set_label(textwrap.fill(theme.scale_of(result, units).label, SCALE_LETTERS), fontsize=9)
    bar.ax.tick_params(labelsize=8)


def _compose(
    assessment: Assessment,
    images: tuple[Image, Image],
    dot: tuple[float, float],
    state: tuple[Pose, float],
    units: labels.Units,
) -> Image:
    """Set bow, curve and numbers side by side."""
    from PIL import Image as Pillow
    from PIL import ImageDraw, ImageFont

    bow, curve = images
    pose, force = state
    page = Pillow.new("RGB", (BOW[0] + CURVE[0], BOW[1]), theme.PAPER)
    page.paste(Pillow.fromarray(bow), (0, 0))
    top = BOW[1] - CURVE[1] - 24
    page.paste(Pillow.fromarray(curve), (BOW[0], top))
    pen = ImageDraw.Draw(page)
    x, y = BOW[0] + dot[0], top + dot[1]
    pen.ellipse((x - 8, y - 8, x + 8, y + 8), fill=theme.PAPER, outline=theme.INK, width=4)
    small, large = (ImageFont.truetype(theme.font_file(), size) for size in (17, 38))
    left = BOW[0] + 16
    lines = textwrap.wrap(
        assessment.setup.title,
        TITLE_LETTERS,
        max_lines=2,
        placeholder=" ...",
        break_long_words=True,
    )
    pen.text((left, 34), "\n".join(lines), font=small, fill=theme.FAINT)
    rows = (
        ("draw length", labels.length_text(pose.draw_length, units)),
        ("force on the string", labels.force_text(force, units)),
    )
    for row, (name, value) in enumerate(rows):
        level = 100 + 112 * row
        pen.text((left, level), name, font=small, fill=theme.INK)
        pen.text((left, level + 24), value, font=large, fill=theme.INK)
    return np.asarray(page)


def _write_gif(frames: list[Image], path: Path) -> None:
    from PIL import Image as Pillow

    # One palette, of the last and most coloured state, keeps still parts still.
    palette = Pillow.fromarray(frames[-1]).quantize(255, dither=Pillow.Dither.NONE)
    pages = [
        Pillow.fromarray(frame).quantize(palette=palette, dither=Pillow.Dither.NONE)
        for frame in frames
    ]
    times = [int(1000 * FRAME_SECONDS)] * (len(pages) - 1) + [int(1000 * LAST_SECONDS)]
    pages[0].save(path, save_all=True, append_images=pages[1:], duration=times, loop=0)


def _write_video(frames: list[Image], path: Path) -> None:
    imageio: Any = import_module("imageio")
    last = [frames[-1]] * round(LAST_SECONDS / FRAME_SECONDS)
    imageio.mimwrite(path, frames + last, fps=round(1.0 / FRAME_SECONDS), macro_block_size=8)
