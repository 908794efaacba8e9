"""The bow as one HTML file that opens from disk, without a network, and can be turned."""

from __future__ import annotations

import html
import io
import json
import os
import zipfile
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.errors import LimbfeError
from limbfe.view import labels, theme
from limbfe.view.bow.limb import place_marks
from limbfe.view.bow.places import label_places
from limbfe.view.bow.scene import add_bow, axis_mesh, string_mesh
from limbfe.view.probe import require_rendering
from limbfe.whole_file import whole_file

if TYPE_CHECKING:
    from limbfe.analysis.results.assessment import Assessment
    from limbfe.stave.decay import Decay
    from limbfe.stave.knot import Knot

PACKAGE = "trame_vtk"

_ICON = "https://kitware.github.io/vtk-js/icon/favicon-"
_STYLE = """
.content { position: fixed; inset: 0 0 76px 0 }
body { margin: 0; background: %(paper)s; color: %(ink)s; font: 16px/1.35 "DejaVu Sans", sans-serif }
.bow { position: fixed; left: 0; z-index: 9; padding: 14px 18px; pointer-events: none }
.bow.top { top: 0 } .bow.foot { bottom: 0; right: 0; text-align: center }
.bow h1 { font-size: 20px; margin: 0 0 4px } .bow p { margin: 0 0 8px; color: %(faint)s }
.bow ol { margin: 0; padding: 0; list-style: none } .bow li { margin: 2px 0 }
.scale { height: 16px; width: min(560px, 80vw); margin: 0 auto }
.marks { display: flex; justify-content: space-between; width: min(560px, 80vw); margin: 0 auto }
@media (max-width: 700px) {
  body { font-size: 13px } .bow h1 { font-size: 16px } .bow.top { padding: 8px 10px }
  .content.under { top: 150px } .bow ol { display: none }
}
"""


NAME_HEIGHT, NAME_AHEAD = 0.028, 0.09
"""Of the name of a knot in the scene, and how far ahead of the back it stands, m."""
COLOURS = {"paper": theme.PAPER, "ink": theme.INK, "faint": theme.FAINT}
_LET_SCROLL = """
window.addEventListener("wheel", function (turn) { if (!turn.ctrlKey) turn.stopPropagation() },
  { capture: true, passive: true })
"""


def page_available() -> str:
    """Return why a page cannot be made here, or an empty string."""
    if find_spec(PACKAGE) is None:
        return (
            "the package trame-vtk is not installed; `pip install trame-vtk` (the extra `page`) "
            "brings it"
        )
    return ""


def write_page(
    assessment: Assessment,
    path: str | os.PathLike[str],
    *,
    result: theme.Result = "strength_used",
    units: labels.Units = "metric",
) -> Path:
    """Write the bow as a self-contained page and return its path.

    Parameters
    ----------
    assessment : Assessment
    path : path-like
    result : {"strength_used", "axial_strain", "axial_stress", "wood"}
    units : {"metric", "imperial"}

    Raises
    ------
    LimbfeError
        When the package that carries the viewer is missing, nothing here can draw, or the folder
        cannot be written.
    """
    with whole_file(path) as partial:
        partial.write_text(make_page(assessment, result=result, units=units), encoding="utf-8")
    return Path(path)


def make_page(
    assessment: Assessment, *, result: theme.Result, units: labels.Units, framed: bool = False
) -> str:
    """Return the page as text; the same faults are raised as by `write_page`.

    A page that is `framed` in another leaves heading and labels to that one, and lets a plain
    turn of the wheel scroll it.
    """
    missing = page_available()
    if missing:
        raise LimbfeError(f"page: {missing}")
    require_rendering()
    viewer: Any = import_module("trame_vtk.tools.vtksz2html")
    out = io.StringIO()
    viewer.write_html(scene_archive(assessment, result, units), out)
    words = (_frame_words if framed else _words)(assessment, result, units)
    title = f"<title>{html.escape(assessment.setup.title)}</title>"
    page = out.getvalue()
    start, end = page.index("<title>"), page.index("</title>") + len("</title>")
    page = page[:start] + title + page[end:]
    # The viewer would fetch its own icon; without one the page asks nothing of the network.
    page = page.replace(_ICON, "data:,")
    place = "content" if framed else "content under"
    return page.replace("<body>", f'<body><div class="{place}"></div>{words}', 1)


def scene_archive(
    assessment: Assessment, result: theme.Result, units: labels.Units = "metric"
) -> bytes:
    """Return the scene in the archive format of the vtk.js off-line viewer."""
    import pyvista as pv

    serializers: Any = import_module("trame_vtk.modules.vtk.serializers")
    plotter: Any = pv.Plotter(off_screen=True, window_size=[400, 400])
    _fill_plotter(plotter, assessment, result, units)
    plotter.render()
    serializers.initialize_serializers()
    serializers.configure_serializer(skip_light=True, encode_lut=True)
    context = serializers.SynchronizationContext()
    context.set_ignore_last_dependencies(True)
    window = plotter.render_window
    scene = serializers.serialize(None, window, serializers.reference_id(window), context, 1)
    camera = window.GetRenderers().GetFirstRenderer().GetActiveCamera()
    scene["extra"] = {
        "vtkRefId": serializers.reference_id(window),
        "centerOfRotation": camera.GetFocalPoint(),
        "camera": serializers.reference_id(camera),
    }
    hashes = {
        entry["hash"]: {**entry, "content": context.get_cached_data_array(entry["hash"], False)}
        for entry in serializers.extract_array_hash(scene)
    }
    plotter.close()
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("index.json", json.dumps({"hashes": hashes, "scene": scene}))
    return archive.getvalue()


def _fill_plotter(
    plotter: Any, assessment: Assessment, result: theme.Result, units: labels.Units
) -> None:
    plotter.set_background(theme.PAPER)
    *others, drawn = assessment.drawn.poses
    for pose in others:
        # Thin and opaque: the viewer draws nothing at all when a body is translucent.
        plotter.add_mesh(axis_mesh(pose), color=theme.GHOST, ambient=0.6, diffuse=0.4)
        if len(pose.string):
            plotter.add_mesh(string_mesh(pose), color=theme.FAINT)
    add_bow(plotter, assessment, drawn, result, units=units)
    _name_zones(plotter, assessment)
    camera = plotter.camera
    camera.up, camera.focal_point = (0.0, 0.0, 1.0), (0.25, 0.0, -0.08)
    camera.position = (1.55, -3.75, 0.57)


def _name_zones(plotter: Any, assessment: Assessment) -> None:
    """Name every knot and patch beside the bow, as bodies: the viewer has no words of its own."""
    import pyvista as pv

    pose = assessment.drawn.poses[-1]
    zones = [mark for mark in place_marks(assessment, "metric") if mark.kind != "spot"]
    if not zones:
        return
    points = np.array([mark.point for mark in zones])
    places = label_places(points, pose)
    places[:, 0] = points[:, 0] - NAME_AHEAD
    for mark, at, name in zip(zones, places, zone_names(assessment), strict=True):
        colour = theme.KNOT if mark.kind == "knot" else theme.DECAY
        words: Any = pv.Text3D(name, depth=1e-4, height=NAME_HEIGHT, center=(0.0, 0.0, 0.0))
        # written in the plane of the draw, to be read from the archer's left
        words = words.rotate_x(90.0).translate(at - [0.5 * np.ptp(words.points[:, 0]), 0.0, 0.0])
        plotter.add_mesh(words, color=colour, ambient=0.9, diffuse=0.1)
        line = pv.Line(at + np.array([0.004, 0.0, 0.0]), mark.point).tube(radius=6e-4, n_sides=6)
        plotter.add_mesh(line, color=colour, ambient=0.9, diffuse=0.1)


def zone_names(assessment: Assessment) -> list[str]:
    """Return what every knot and patch is called, in the order of `place_marks`."""
    stave = assessment.setup.stave
    zones: tuple[Knot | Decay, ...] = (*stave.knots, *stave.decays)
    return [f"{zone.kind} {zone.name}" for zone in zones]


def _frame_words(assessment: Assessment, result: theme.Result, units: labels.Units) -> str:
    style = _STYLE % COLOURS
    return (
        f"<style>{style}</style><script>{_LET_SCROLL}</script>"
        f'<div class="bow foot">{_scale(assessment, result, units)}</div>'
    )


def _words(assessment: Assessment, result: theme.Result, units: labels.Units) -> str:
    weight = labels.force_text(float(assessment.drawn.curve.force[-1]), units)
    length = labels.length_text(float(assessment.drawn.curve.draw_length[-1]), units)
    items = "".join(f"<li>{html.escape(m.text)}</li>" for m in place_marks(assessment, units))
    return (
        f"<style>{_STYLE % COLOURS}</style>"
        f'<div class="bow top"><h1>{html.escape(assessment.setup.title)}</h1>'
        f"<p>{weight} at {length}</p><p>drag to turn, scroll to come closer</p>"
        "<p>thin lines: unstrung, braced</p>"
        f"<p>strength used at full draw</p><ol>{items}</ol></div>"
        f'<div class="bow foot">{_scale(assessment, result, units)}</div>'
    )


def _scale(assessment: Assessment, result: theme.Result, units: labels.Units) -> str:
    """Return the colour scale with its numbers as HTML."""
    if result == "wood":
        present = np.unique(assessment.surface.layer.round()).astype(int)
        return " ".join(
            f'<span style="border-left:1.2em solid {theme.WOOD_TONES[k]}">&nbsp;'
            f"{theme.WOOD_NAMES[k]}</span>"
            for k in present
        )
    low, high = theme.value_range(result, getattr(assessment.surface, result), units)
    steps = 60
    shades = (255 * theme.colour_map(result)((np.arange(steps) + 0.5) / steps)[:, :3]).round()
    stops = ",".join(
        f"rgb({r:.0f},{g:.0f},{b:.0f}) {100 * k / steps:.4g}% {100 * (k + 1) / steps:.4g}%"
        for k, (r, g, b) in enumerate(shades)
    )
    numbers = "".join(f"<span>{value:.3g}</span>" for value in np.linspace(low, high, 7))
    return (
        f'<div class="scale" style="background:linear-gradient(to right,{stops})"></div>'
        f'<div class="marks">{numbers}</div>{html.escape(theme.scale_of(result, units).label)}'
    )
