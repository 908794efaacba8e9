"""The bow as PyVista meshes and one scene that a window, a page or a picture can use."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.analysis.results.skin import place, spread, sweep_skin
from limbfe.view import labels, theme
from limbfe.view.bow.parts import Solid, decay_solid, knot_solid, outline_at, reach_tips

if TYPE_CHECKING:
    import pyvista as pv

    from limbfe.analysis.bow.drawn import Pose
    from limbfe.analysis.results.assessment import Assessment
    from limbfe.analysis.wood.stress import SurfaceField

STRING_RADIUS = 0.002
AXIS_RADIUS = 0.0025
LIGHT: dict[str, Any] = {"ambient": 0.42, "diffuse": 0.62, "specular": 0.08, "render": False}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """The part of the side view that is shown: left, right, bottom, top (m, global X and Z)."""

    left: float
    right: float
    bottom: float
    top: float


def fill_frame(frame: Frame, aspect: float) -> Frame:
    """Return the frame widened or heightened about its middle to a width-to-height ratio."""
    width, height = frame.right - frame.left, frame.top - frame.bottom
    more_width, more_height = max(aspect * height - width, 0), max(width / aspect - height, 0)
    return Frame(
        left=frame.left - more_width / 2,
        right=frame.right + more_width / 2,
        bottom=frame.bottom - more_height / 2,
        top=frame.top + more_height / 2,
    )


def look_from_left(plotter: Any, frame: Frame) -> None:
    """Look at the bow from the archer's left, string to the right, without perspective."""
    middle = (0.5 * (frame.left + frame.right), 0.0, 0.5 * (frame.bottom + frame.top))
    camera = plotter.camera
    camera.focal_point = middle
    camera.position = (middle[0], -3.0, middle[2])
    camera.up = (0.0, 0.0, 1.0)
    plotter.enable_parallel_projection()
    camera.parallel_scale = 0.5 * (frame.top - frame.bottom)
    camera.clipping_range = (0.5, 6.0)


def whole_surface(assessment: Assessment, fields: SurfaceField | None = None) -> SurfaceField:
    """Return the skin's fields, those of full draw if none are given, carried on to both tips."""
    node_x = assessment.drawn.poses[0].node_x
    known = assessment.surface if fields is None else fields
    return reach_tips(known, float(node_x[0]), float(node_x[-1]))


def skin_mesh(pose: Pose, surface: SurfaceField, units: labels.Units = "metric") -> pv.PolyData:
    """Return the limb's skin with one point array per result, in the units of its scale.

    Point data are ``strength_used``, ``axial_strain`` (%), ``axial_stress`` (MPa or 1000 psi)
    and ``wood`` (red, green, blue of the layer).
    """
    import pyvista as pv

    skin = sweep_skin(pose, surface.x, surface.ring)
    mesh = pv.PolyData(np.array(skin.points), faces=_faces(skin.quads, skin.triangles))
    for name in theme.SCALED:
        factor = theme.scale_of(name, units).factor
        mesh.point_data[name] = spread(getattr(surface, name)) * factor
    tones = theme.wood_colours(spread(surface.layer).round())
    mesh.point_data["wood"] = (255.0 * tones).round().astype(np.uint8)
    mesh.point_data["station"] = np.array(skin.station)
    return mesh


def solid_mesh(solid: Solid, pose: Pose) -> pv.PolyData:
    """Return a knot or patch where it is in a pose."""
    import pyvista as pv

    return pv.PolyData(place(pose, solid.points), faces=_faces(solid.quads))


def string_mesh(pose: Pose) -> pv.PolyData:
    """Return the string as a thin tube."""
    import pyvista as pv

    line = pv.lines_from_points(np.array(pose.string))
    tube: pv.PolyData = line.tube(radius=STRING_RADIUS, n_sides=8)
    return tube


def solids(assessment: Assessment, surface: SurfaceField) -> tuple[tuple[Solid, str], ...]:
    """Return every knot and patch that lies in the limb, each with its colour."""
    stave = assessment.setup.stave
    bodies = [(knot_solid(knot, surface), theme.KNOT) for knot in stave.knots]
    bodies += [(decay_solid(decay, surface), theme.DECAY) for decay in stave.decays]
    return tuple((solid, colour) for solid, colour in bodies if len(solid.points))


def add_skin(
    plotter: Any, mesh: pv.PolyData, result: theme.Result, limits: tuple[float, float]
) -> None:
    """Add a skin coloured by a result or in wood tones, in place of the one before.

    The limits of the scale are those of full draw in every pose, so that colours can be compared.
    """
    if result == "wood":
        plotter.add_mesh(mesh, scalars="wood", rgb=True, name="skin", **LIGHT)
        return
    plotter.add_mesh(
        mesh,
        scalars=result,
        cmap=theme.colour_map(result),
        clim=limits,
        show_scalar_bar=False,
        name="skin",
        **LIGHT,
    )


def add_bow(
    plotter: Any,
    assessment: Assessment,
    pose: Pose,
    result: theme.Result,
    fields: SurfaceField | None = None,
    *,
    units: labels.Units = "metric",
) -> None:
    """Add the bow in one pose, in place of the one before.

    Parameters
    ----------
    plotter : pyvista.Plotter
    assessment : Assessment
    pose : Pose
    result : {"strength_used", "axial_strain", "axial_stress", "wood"}
    fields : SurfaceField, optional
        Of this pose; those of full draw if left out.
    units : {"metric", "imperial"}
    """
    surface = whole_surface(assessment, fields)
    limits = (0.0, 1.0)
    if result != "wood":
        limits = theme.value_range(result, getattr(assessment.surface, result), units)
    add_skin(plotter, skin_mesh(pose, surface, units), result, limits)
    for solid, colour in solids(assessment, surface):
        plotter.add_mesh(solid_mesh(solid, pose), color=colour, name=f"zone {solid.name}", **LIGHT)
    half_grip = assessment.setup.stave.half_grip
    if half_grip > 0.0:
        mesh = grip_mesh(pose, surface, half_grip)
        plotter.add_mesh(mesh, color=theme.GRIP, name="grip", pickable=False, **LIGHT)
    plotter.remove_actor("string", render=False)
    if len(pose.string):
        mesh = string_mesh(pose)
        plotter.add_mesh(mesh, color=theme.STRING, name="string", pickable=False, **LIGHT)


def axis_mesh(pose: Pose) -> pv.PolyData:
    """Return a limb as a thin tube along its axis.

    Where two poses meet it lies inside the limb that is drawn in full.
    """
    import pyvista as pv

    line = pv.lines_from_points(np.array(pose.positions))
    tube: pv.PolyData = line.tube(radius=AXIS_RADIUS, n_sides=8)
    return tube


def grip_mesh(pose: Pose, surface: SurfaceField, half_length: float) -> pv.PolyData:
    """Return a thin wrap round the stiff handle."""
    import pyvista as pv

    x = np.linspace(-half_length, half_length, 9)
    outline = outline_at(surface, x)
    middle = outline.mean(axis=1, keepdims=True)
    grown = middle + (outline - middle) * (1.0 + 1e-3 / np.abs(outline - middle).max())
    skin = sweep_skin(pose, x, grown)
    return pv.PolyData(np.array(skin.points), faces=_faces(skin.quads, skin.triangles))


def _faces(*cells: Any) -> Any:
    """Return cells of several sizes in VTK's padded list."""
    parts = [
        np.concatenate([np.full((len(c), 1), c.shape[1], dtype=np.int64), c], axis=1).ravel()
        for c in cells
    ]
    return np.concatenate(parts)
