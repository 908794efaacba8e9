"""The bow seen from the archer's left: unstrung, braced and drawn in one picture.

VTK draws the bodies, in true proportion; Matplotlib lays words, dimensions and the scale over
them, since the view is parallel and every point's place on the page is known.
"""

from __future__ import annotations

import os
import textwrap
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.analysis.results.skin import place
from limbfe.frames import Array
from limbfe.stave.marks import signed_station
from limbfe.view import labels, theme
from limbfe.view.bow.parts import clip_to_skin
from limbfe.view.bow.scene import (
    Frame,
    add_bow,
    fill_frame,
    look_from_left,
    skin_mesh,
    string_mesh,
    whole_surface,
)
from limbfe.view.probe import require_rendering

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from limbfe.analysis.results.assessment import Assessment

WIDTH, HEIGHT = 7.9, 11.0
GHOST = "#cdbf9f"
LABELLED_SPOTS = 4
SEEN_SET = 0.008
"""Smaller sets (m) are narrower than the limb on the page."""
TITLE_WIDTH = 54
"""Letters in a line of the title."""
BEHIND = np.array([0.0, 0.5, 0.0])
SHARPER = 2
"""Pixels rendered for each pixel of the page, each way."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mark:
    """A place on the drawn bow that gets a label.

    Attributes
    ----------
    text : str
    point : ndarray, shape (3,), m, global
    kind : {"spot", "knot", "decay"}
    """

    text: str
    point: Array
    kind: str


def draw_bow(
    assessment: Assessment,
    *,
    result: theme.Result = "strength_used",
    units: labels.Units = "metric",
) -> Figure:
    """Return the picture of the bow at rest, braced and at full draw.

    Parameters
    ----------
    assessment : Assessment
    result : {"strength_used", "axial_strain", "axial_stress", "wood"}
        What colours the drawn bow.
    units : {"metric", "imperial"}

    Raises
    ------
    LimbfeError
        When nothing on this machine can draw in 3D.
    """
    require_rendering()
    frame = side_frame(assessment)
    with theme.typography():
        figure = theme.new_figure(WIDTH, HEIGHT)
        pixels = (round(WIDTH * figure.dpi), round(0.85 * HEIGHT * figure.dpi))
        floor = round(0.09 * HEIGHT * figure.dpi)
        frame = fill_frame(frame, pixels[0] / pixels[1])
        figure.figimage(render_side(assessment, result, frame, pixels, units), 0, floor, zorder=-1)
        page = figure.bbox.height
        axes = figure.add_axes((0.0, floor / page, 1.0, pixels[1] / page), facecolor="none")
        axes.set(xlim=(frame.left, frame.right), ylim=(frame.bottom, frame.top))
        axes.set_axis_off()
        _add_dimensions(axes, assessment, units)
        _add_pose_names(axes, assessment)
        _add_set(axes, assessment, units)
        _add_marks(axes, place_marks(assessment, units), frame)
        _add_title(figure, assessment, units)
        _add_key(figure, assessment, result, units)
    return figure


def write_bow(assessment: Assessment, path: str | os.PathLike[str], **options: Any) -> Path:
    """Write `draw_bow` as PNG and return the path."""
    return theme.save_figure(draw_bow(assessment, **options), path)


def side_frame(assessment: Assessment) -> Frame:
    """Return the least frame that holds every pose and string, with room for the labels."""
    parts = [pose.positions for pose in assessment.drawn.poses]
    parts += [pose.string for pose in assessment.drawn.poses if len(pose.string)]
    points = np.concatenate(parts)
    low, high = points.min(axis=0), points.max(axis=0)
    height = high[2] - low[2]
    return Frame(
        left=float(low[0] - 0.27 * height),
        right=float(high[0] + 0.04 * height),
        bottom=float(low[2] - 0.03 * height),
        top=float(high[2] + 0.06 * height),
    )


def render_side(
    assessment: Assessment,
    result: theme.Result,
    frame: Frame,
    pixels: tuple[int, int],
    units: labels.Units = "metric",
) -> Any:
    """Return the side view without words, shape (height, width, 3), unsigned bytes."""
    import pyvista as pv

    size = [SHARPER * pixels[0], SHARPER * pixels[1]]
    plotter: Any = pv.Plotter(off_screen=True, window_size=size)
    plotter.set_background(theme.PAPER)
    surface = whole_surface(assessment)
    *others, drawn = assessment.drawn.poses
    for pose in others:
        # Behind the drawn bow; without perspective that moves nothing on the page.
        behind = replace(pose, positions=pose.positions + BEHIND, string=pose.string + BEHIND)
        plotter.add_mesh(skin_mesh(behind, surface), color=GHOST, ambient=0.7, diffuse=0.35)
        if len(pose.string):
            plotter.add_mesh(string_mesh(behind), color=theme.FAINT, lighting=False)
    add_bow(plotter, assessment, drawn, result, units=units)
    look_from_left(plotter, frame)
    image = plotter.screenshot(return_img=True)
    plotter.close()
    blocks = image.reshape(pixels[1], SHARPER, pixels[0], SHARPER, 3)
    return blocks.mean(axis=(1, 3), dtype=np.float32).astype(np.uint8)


def place_marks(assessment: Assessment, units: labels.Units) -> tuple[Mark, ...]:
    """Return what is labelled on the drawn bow: the worst hot spots, every knot and patch.

    A knot or patch that was not judged is named without a number.
    """
    pose, stave = assessment.drawn.poses[-1], assessment.setup.stave
    surface = whole_surface(assessment)
    marks = []
    for spot in labels.chief_hot_spots(assessment, LABELLED_SPOTS):
        far = {"back": 1.0, "belly": -1.0}.get(spot.face, 0.0)
        station = signed_station(spot.limb, spot.at)
        at = clip_to_skin(surface, np.array([[station, spot.across, far]]))
        text = labels.hot_spot_text(spot, units)
        marks.append(Mark(text=text, point=place(pose, at)[0], kind="spot"))
    judged = {defect.name: labels.defect_text(defect, units) for defect in assessment.zones}
    zones = [(knot.name, "knot", knot.x) for knot in stave.knots]
    zones += [(decay.name, "decay", float(decay.center[0])) for decay in stave.decays]
    for name, kind, x in zones:
        text = judged.get(name) or labels.zone_text(name, kind, abs(x), units)
        marks.append(Mark(text=text, point=place(pose, [[x, 0.0, 0.0]])[0], kind=kind))
    return tuple(marks)


def _add_set(axes: Axes, assessment: Assessment, units: labels.Units) -> None:
    """Draw the limbs as they come to rest after the draw, where that can be seen."""
    kept = assessment.drawn.kept
    if kept is None or assessment.set_depth < SEEN_SET:
        return
    line = kept.unstrung.positions[:, [0, 2]]
    axes.plot(*line.T, color=theme.BELLY, lw=1.3, ls=(0, (5, 3)), zorder=0)
    axes.annotate(
        f"unstrung after the draw:\nset {labels.set_text(assessment.set_depth, units)}",
        xy=tuple(line[0]), xytext=(0, -6), textcoords="offset points", ha="center", va="top",
        fontsize=9.5, color=theme.BELLY,
    )  # fmt: skip


def _add_marks(axes: Axes, marks: tuple[Mark, ...], frame: Frame) -> None:
    height = frame.top - frame.bottom
    left = frame.left + 0.02 * (frame.right - frame.left)
    wanted = np.array([mark.point[2] for mark in marks])
    levels = labels.spread_labels(
        wanted, 0.026 * height, frame.bottom + 0.03 * height, frame.top - 0.09 * height
    )
    for mark, level in zip(marks, levels, strict=True):
        colour = {"spot": theme.INK, "knot": theme.KNOT, "decay": theme.DECAY}[mark.kind]
        shape = {"spot": "o", "knot": "D", "decay": "s"}[mark.kind]
        at = (float(mark.point[0]), float(mark.point[2]))
        axes.annotate(
            mark.text,
            xy=at,
            xytext=(left, level),
            va="center",
            fontsize=10.5,
            fontweight="normal" if mark.kind == "spot" else "bold",
            color=colour,
            arrowprops={"arrowstyle": "-", "color": colour, "lw": 0.9, "shrinkA": 3, "shrinkB": 4},
        )
        axes.plot(*at, shape, ms=6.5, mfc=theme.PAPER, mec=colour, mew=1.7)
    if marks:
        top = max(levels) + 0.03 * height
        axes.text(left, top, "strength used at full draw", fontsize=9.5, color=theme.FAINT)


def _add_dimensions(axes: Axes, assessment: Assessment, units: labels.Units) -> None:
    """Draw brace height above the arrow and draw length below it, and the arrow itself."""
    grip = assessment.surface.ring[np.argmin(np.abs(assessment.surface.x))][:, 1]
    back, belly = -float(grip.max()), -float(grip.min())
    braced, drawn = assessment.drawn.poses[1], assessment.drawn.poses[-1]
    height = float(np.ptp(assessment.drawn.poses[0].positions[:, 2]))
    pulled = drawn.string[np.argmax(drawn.string[:, 0])]
    above, below = pulled[2] + 0.03 * height, pulled[2] - 0.045 * height
    order = np.argsort(braced.string[:, 2])
    string_x = float(np.interp(above, braced.string[order, 2], braced.string[order, 0]))
    _dimension(axes, belly, string_x, above)
    _dimension(axes, back, float(pulled[0]), below)
    for edge in (back, float(pulled[0])):
        axes.plot([edge, edge], [below - 0.008 * height, pulled[2]], color=theme.INK, lw=0.7)
    boxed: dict[str, Any] = {
        "fontsize": 10.5,
        "va": "center",
        "bbox": {"facecolor": theme.PAPER, "edgecolor": "none", "pad": 1.5},
    }
    brace_text = f"brace height {labels.length_text(assessment.drawn.brace_height, units)}"
    draw_text = f"draw length {labels.length_text(drawn.draw_length, units)}"
    axes.text(string_x + 0.015 * height, above, brace_text, ha="left", **boxed)
    axes.text(0.5 * (string_x + pulled[0]), below, draw_text, ha="center", **boxed)
    head = back - 0.13 * height
    axes.annotate(
        "",
        xy=(head, pulled[2]),
        xytext=(pulled[0], pulled[2]),
        arrowprops={"arrowstyle": "-|>", "color": theme.FAINT, "lw": 1.6, "shrinkA": 0},
    )
    axes.text(
        head, pulled[2] + 0.005 * height, "to the target", va="bottom", fontsize=9.5,
        color=theme.FAINT,
    )  # fmt: skip


def _dimension(axes: Axes, start: float, end: float, level: float) -> None:
    arrow = {"arrowstyle": "<|-|>", "color": theme.INK, "lw": 0.9, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", xy=(start, level), xytext=(end, level), arrowprops=arrow)


def _add_pose_names(axes: Axes, assessment: Assessment) -> None:
    height = np.ptp(assessment.drawn.poses[0].positions[:, 2])
    for pose in assessment.drawn.poses:
        tip = pose.positions[-1]
        axes.text(
            tip[0], tip[2] + 0.012 * height, pose.name, ha="center", va="bottom", fontsize=10,
            color=theme.INK if pose is assessment.drawn.poses[-1] else theme.FAINT,
        )  # fmt: skip


def _add_title(figure: Figure, assessment: Assessment, units: labels.Units) -> None:
    weight = labels.force_text(float(assessment.drawn.curve.force[-1]), units)
    length = labels.length_text(float(assessment.drawn.curve.draw_length[-1]), units)
    lines = textwrap.wrap(assessment.setup.title, TITLE_WIDTH, max_lines=2, placeholder=" ...")
    figure.text(0.02, 0.985, "\n".join(lines), va="top", fontsize=15, fontweight="bold")
    figure.text(
        0.02, 0.955 - 0.022 * (len(lines) - 1),
        f"{weight} at {length}; seen from the archer's left, true proportions",
        va="top", fontsize=11, color=theme.FAINT,
    )  # fmt: skip


def _add_key(
    figure: Figure, assessment: Assessment, result: theme.Result, units: labels.Units
) -> None:
    from matplotlib.patches import Patch

    if result == "wood":
        present = np.unique(assessment.surface.layer.round()).astype(int)
        handles = [Patch(color=theme.WOOD_TONES[k], label=theme.WOOD_NAMES[k]) for k in present]
        figure.legend(handles=handles, loc="lower center", ncols=len(handles))
        return
    values = getattr(assessment.surface, result)
    theme.add_colour_bar(figure, result, values, (0.2, 0.058, 0.6, 0.016), units)
