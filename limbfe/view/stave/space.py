"""The finished limb inside its stave in space, branches running out from the pith.

The same bodies make a picture, drawn by PyVista in true proportion, and a page that turns.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array
from limbfe.log.bench import back_at, branch_on_bench, lifted, limb_outline, stave_outline
from limbfe.log.log import Crack, Log, Mark, Patch
from limbfe.stave.knot import radius_at
from limbfe.stave.stave import Stave
from limbfe.view import labels, theme
from limbfe.view.probe import require_rendering
from limbfe.view.stave.view import StaveView
from limbfe.view.turning import Body, Name, Scene, chain, swept, tube, turning_page
from limbfe.whole_file import whole_file

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WOOD, FINISHED, CRACK = "#ecd3a0", "#b98549", "#7a1f1f"
SEEN_THROUGH = 0.30
STATIONS, AROUND = 81, 20
"""Sections of a stave and of a limb, and points round a branch."""
LINE = 0.0007
"""Radius of a line, m."""
NOSE = 0.002
"""How far (m) branches are followed out of the wood, so that their mark is seen."""
TURN, TILT = np.radians(-20.0), np.radians(38.0)
"""From where a scene is looked at first: from the right of the stave and above."""
UPRIGHT = (np.radians(-77.0), np.radians(63.0))
"""The same on a telephone: along the stave, its top end up."""
ROWS, WIDTH = 3, 12.6
"""Pieces of stave below each other in the picture, and its width, inches."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inside:
    """A stave with the bow in it, as bodies and names."""

    bodies: tuple[Body, ...]
    names: tuple[Name, ...]


def inside_stave(view: StaveView, wanted: Stave) -> Inside:
    """Return stave, limb, branches, rot, checks, pith and lines of the best layout."""
    log, line = view.log, view.line
    bodies = [_limb(view, wanted), *(_branch(log, mark) for mark in log.marks)]
    bodies += [_patch(log, patch) for patch in log.patches]
    bodies += [_crack(log, crack) for crack in log.cracks]
    along = np.linspace(*line.nocks, STATIONS)
    bodies.append(_on_back(log, along, line.offset_at(along), theme.BACK))
    whole = np.linspace(0.0, log.length, STATIONS)
    bodies.append(_on_back(log, whole, np.zeros(STATIONS), theme.STRING))
    if log.round:
        pith = np.stack([log.at("pith_across", whole), -log.at("pith", whole)], axis=-1)
        bodies.append(_solid(tube(lifted(log, whole, pith), LINE), theme.KNOT))
    bodies += [_cut(log, nock) for nock in line.nocks]
    stave = np.stack([_ring(log, float(x)) for x in whole])
    bodies.append(Body(**_swept(stave), colour=WOOD, alpha=SEEN_THROUGH))
    bodies.append(_edges(stave))
    return Inside(bodies=tuple(bodies), names=_names(view))


def _swept(rings: Array) -> dict[str, Any]:
    points, cells = swept(rings)
    return {"points": points, "cells": cells}


def _solid(rings: Array, colour: str) -> Body:
    return Body(**_swept(rings), colour=colour)


def _ring(log: Log, x: float) -> Array:
    outline = stave_outline(log, x, sides=7, top=19)
    return lifted(log, np.full(len(outline), x), outline)


def _limb(view: StaveView, wanted: Stave) -> Body:
    log, line = view.log, view.line
    lower, upper = (float(tip) * (1.0 - 1e-6) for tip in (wanted.x[0], wanted.x[-1]))
    at = np.sort(line.station(np.linspace(lower, upper, 2 * STATIONS)))
    rings = []
    for x in at:
        outline = limb_outline(log, line, wanted, float(x), points=17)
        rings.append(lifted(log, np.full(len(outline), x), outline))
    return _solid(np.stack(rings), FINISHED)


def _branch(log: Log, mark: Mark) -> Body:
    """Return a branch from its mark to the pith; what it is made of is told by its colour."""
    knot = branch_on_bench(log, mark)
    reach = np.linspace(-NOSE, knot.length, 9)
    radius = np.maximum(radius_at(knot, reach), 1e-5)
    axis = knot.entry + reach[:, None] * knot.direction
    rings = axis[:, None] + radius[:, None, None] * _circle(knot.direction)
    colour = theme.GHOST if knot.hollow else theme.KNOT
    return _solid(lifted(log, rings[..., 0], rings[..., 1:]), colour)


def _circle(direction: Array) -> Array:
    """Return points of a circle of radius 1 square to a direction, shape (AROUND, 3)."""
    across = np.cross(direction, np.eye(3)[int(np.argmin(np.abs(direction)))])
    across /= np.linalg.norm(across)
    angle = np.linspace(0.0, 2.0 * np.pi, AROUND, endpoint=False)[:, None]
    circle: Array = np.cos(angle) * across + np.sin(angle) * np.cross(direction, across)
    return circle


def _patch(log: Log, patch: Patch) -> Body:
    """Return a patch of rot as the ellipsoid of its sizes round its middle on the face."""
    depth = float(log.at("depth", patch.x))
    beside = patch.face in ("left", "right")
    faces = dict(
        zip(
            ("left", "right"),
            log.edges(patch.x, patch.across if beside else 0.0),
            strict=True,
        )
    )
    right = float(faces[patch.face]) if beside else patch.across
    down = {"back": 0.0, "belly": depth}.get(patch.face, patch.across)
    top = float(back_at(log, patch.x).height(np.array(right))) * (1.0 - down / depth)
    half = np.array([patch.length, patch.width, 2.0 * patch.depth]) / 2.0
    if beside:
        half = half[[0, 2, 1]]
    polar = np.linspace(-0.5 * np.pi + 1e-3, 0.5 * np.pi - 1e-3, 13)[:, None]
    angle = np.linspace(0.0, 2.0 * np.pi, AROUND, endpoint=False)
    unit = np.stack(
        [
            np.broadcast_to(np.sin(polar), (13, AROUND)),
            np.cos(polar) * np.cos(angle),
            np.cos(polar) * np.sin(angle),
        ],
        axis=-1,
    )
    rings = np.array([patch.x, right, top - down]) + half * unit
    return _solid(lifted(log, rings[..., 0], rings[..., 1:]), theme.DECAY)


def _crack(log: Log, crack: Crack) -> Body:
    """Return a check as a sheet from the back down."""
    x = np.linspace(crack.start, crack.end, 13)
    across = np.linspace(crack.across, crack.across_end, 13)
    top = np.array(
        [
            float(back_at(log, float(at)).height(np.array(y)))
            for at, y in zip(x, across, strict=True)
        ]
    )
    rows = [np.stack([across, top - down], axis=1) for down in (0.0, crack.depth)]
    points = np.concatenate([lifted(log, x, row) for row in rows])
    k = np.arange(12)
    cells = [np.stack([k, k + 1, k + 14], axis=1), np.stack([k, k + 14, k + 13], axis=1)]
    return Body(points=points, cells=np.concatenate(cells), colour=CRACK)


def _on_back(log: Log, x: Array, offset: Array, colour: str) -> Body:
    """Return a line drawn on the back."""
    top = np.array(
        [
            float(back_at(log, float(at)).height(np.array(y)))
            for at, y in zip(x, offset, strict=True)
        ]
    )
    return _solid(tube(lifted(log, x, np.stack([offset, top], axis=1)), LINE), colour)


def _cut(log: Log, x: float) -> Body:
    """Return where the stave is sawn off, as a line round it."""
    ring = _ring(log, x)
    return Body(points=ring, cells=chain(len(ring), closed=True), colour=theme.INK)


def _edges(rings: Array) -> Body:
    """Return the four edges of the stave and its two ends as lines."""
    count, around = rings.shape[:2]
    corners = (0, 6, 7, 13)
    here = np.arange(count * around).reshape(count, around)
    along = [np.stack([here[:-1, k], here[1:, k]], axis=1) for k in corners]
    ends = [here[k][chain(around, closed=True)] for k in (0, -1)]
    return Body(
        points=rings.reshape(-1, 3), cells=np.concatenate([*along, *ends]), colour=theme.FAINT
    )


def _names(view: StaveView) -> tuple[Name, ...]:
    log, names = view.log, []
    for mark in log.marks:
        at = branch_on_bench(log, mark).entry
        gone = " (gone)" if mark.name in view.gone else ""
        names.append((mark.name + gone, at[0], at[1:], theme.KNOT))
    names += [(one.name, one.x, np.array([one.across, 0.0]), theme.DECAY) for one in log.patches]
    nothing = np.zeros(2)
    ends = {"butt": 0.0, "top": log.length}
    for end, x in ends.items():
        up = ", this end up" if end == view.line.upper_end else ""
        names.append((end + up, x, nothing, theme.INK))
    names.append(("grip", view.line.grip, nothing, theme.FAINT))
    return tuple(
        Name(text=text, at=lifted(log, np.array(x), at), colour=colour)
        for text, x, at, colour in names
    )


def write_inside_page(view: StaveView, wanted: Stave, path: str | os.PathLike[str]) -> Path:
    """Write the page that turns and return its path."""
    inside = inside_stave(view, wanted)
    scene = Scene(bodies=inside.bodies, names=inside.names, turn=TURN, tilt=TILT, upright=UPRIGHT)
    words = (
        "drag to turn, with shift or two fingers to move, scroll or pinch to come closer",
        "the finished limb in its stave, branches from the pith; dark lines round it: saw cuts; "
        "along it: centre line orange, snapped line blue; the stave is seen through, hidden edges "
        "too: its shades are no sapwood",
    )
    with whole_file(path) as partial:
        partial.write_text(turning_page(view.title, words, scene), encoding="utf-8")
    return Path(path)


def write_inside(
    view: StaveView, wanted: Stave, path: str | os.PathLike[str], units: labels.Units
) -> Path:
    """Write the picture in space as PNG and return its path.

    Raises
    ------
    LimbfeError
        When nothing on this machine can draw in 3D.
    """
    return theme.save_figure(draw_inside(view, wanted, units), path)


def draw_inside(view: StaveView, wanted: Stave, units: labels.Units = "metric") -> Figure:
    """Return the stave in true proportion, cut into three rows that follow each other.

    VTK draws the bodies without perspective; Matplotlib lays names over them.
    """
    require_rendering()
    inside = inside_stave(view, wanted)
    points = np.concatenate([body.points for body in inside.bodies])
    high = _up(points)
    half = 0.5 * (high.max() - high.min()) + 0.012
    middle = 0.5 * (high.max() + high.min())
    step = view.log.length / ROWS
    long = step + 0.09
    with theme.typography():
        figure = theme.new_figure(WIDTH, ROWS * WIDTH * 2.0 * half / long + 1.18)
        pixels = (round(WIDTH * figure.dpi), round(WIDTH * figure.dpi * 2.0 * half / long))
        pieces = [(step * k - 0.045, step * (k + 1) + 0.045) for k in range(ROWS)]
        images = _render(inside.bodies, pieces, (middle, half), pixels)
        page = figure.bbox.height
        for k, (piece, image) in enumerate(zip(pieces, images, strict=True)):
            floor = round(0.48 * figure.dpi) + (ROWS - 1 - k) * pixels[1]
            figure.figimage(image, 0, floor, zorder=-1)
            axes = figure.add_axes((0.0, floor / page, 1.0, pixels[1] / page), facecolor="none")
            axes.set(xlim=piece, ylim=(middle - half, middle + half))
            axes.set_axis_off()
            _write_names(axes, inside.names, piece)
        figure.text(
            0.015, 1.0 - 0.35 / figure.get_figheight(), f"{view.title}: the limb in the stave",
            fontweight="bold", va="center",
        )  # fmt: skip
        figure.text(
            0.015, 0.12 / figure.get_figheight(),
            "true proportion, from the right and above, the stave seen through, hidden edges too; "
            f"{labels.length_text(step, units)} a row, butt end first\n"
            "orange: centre line; blue: snapped line; across: saw cuts"
            + ("; dark, deep in the stave: pith" if view.log.round else ""),
            fontsize=9, color=theme.FAINT, linespacing=1.4,
        )  # fmt: skip
    return figure


def _up(points: Array) -> Array:
    """Return how high points lie in the picture, looked at along y and from above."""
    up: Array = points[..., 2] * np.cos(TILT) + points[..., 1] * np.sin(TILT)
    return up


def _render(
    bodies: tuple[Body, ...],
    pieces: list[tuple[float, float]],
    height: tuple[float, float],
    pixels: tuple[int, int],
) -> list[NDArray[np.uint8]]:
    import pyvista as pv

    plotter: Any = pv.Plotter(off_screen=True, window_size=list(pixels))
    plotter.set_background(theme.PAPER)
    for body in bodies:
        cells = np.insert(body.cells, 0, body.cells.shape[1], axis=1).ravel()
        look: dict[str, Any] = {"color": body.colour, "render": False}
        if body.cells.shape[1] == 2:
            plotter.add_mesh(pv.PolyData(body.points, lines=cells), line_width=2, **look)
            continue
        mesh = pv.PolyData(body.points, faces=cells)
        plotter.add_mesh(mesh, opacity=body.alpha, ambient=0.35, diffuse=0.7, specular=0.05, **look)
    plotter.enable_parallel_projection()
    camera, images = plotter.camera, []
    middle, half = height
    for low, high in pieces:
        # the middle of the view lies at that height of the picture
        at = np.array([0.5 * (low + high), middle * np.sin(TILT), middle * np.cos(TILT)])
        camera.focal_point = at
        camera.position = at + 3.0 * np.array([0.0, -np.cos(TILT), np.sin(TILT)])
        camera.up = (0.0, 0.0, 1.0)
        camera.parallel_scale = half
        camera.clipping_range = (1.0, 5.0)
        plotter.render()
        images.append(np.array(plotter.screenshot(return_img=True)))
    plotter.close()
    return images


def _write_names(axes: Axes, names: tuple[Name, ...], piece: tuple[float, float]) -> None:
    from matplotlib.patheffects import withStroke

    for name in names:
        if not piece[0] <= name.at[0] <= piece[1]:
            continue
        at = (float(name.at[0]), float(_up(name.at)))
        last = name.at[0] > piece[1] - 0.12 * (piece[1] - piece[0])
        axes.annotate(
            name.text, at, xytext=(-7 if last else 7, 9), textcoords="offset points",
            color=name.colour, fontsize=10.5, fontweight="bold", ha="right" if last else "left",
            path_effects=[withStroke(linewidth=3.0, foreground=theme.PAPER)],
        )  # fmt: skip
