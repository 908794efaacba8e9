"""The bow as PyVista meshes and one scene that a window, a page or a picture can use."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.analysis.sweep import place, spread, sweep_skin
from limbfe.view import theme
from limbfe.view.parts import Solid, decay_solid, knot_solid, reach_tips

if TYPE_CHECKING:
    import pyvista as pv

    from limbfe.analysis.results import Assessment, Pose, SurfaceField

STRING_RADIUS = 0.002
LIGHT: dict[str, Any] = {"ambient": 0.42, "diffuse": 0.62, "specular": 0.08}


def whole_surface(assessment: Assessment) -> SurfaceField:
    """Return the skin's fields carried on to both tips."""
    node_x = assessment.poses[0].node_x
    return reach_tips(assessment.surface, float(node_x[0]), float(node_x[-1]))


def skin_mesh(pose: Pose, surface: SurfaceField) -> pv.PolyData:
    """Return the limb's skin with one point array per result, in the units of its scale.

    Point data are ``strength_used``, ``axial_strain`` (%), ``axial_stress`` (MPa) and ``wood``
    (red, green, blue of the layer).
    """
    import pyvista as pv

    skin = sweep_skin(pose, surface.x, surface.ring)
    mesh = pv.PolyData(np.array(skin.points), faces=_faces(skin.quads, skin.triangles))
    for name, scale in theme.SCALES.items():
        mesh.point_data[name] = spread(getattr(surface, name)) * scale.factor
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


def add_skin(plotter: pv.Plotter, mesh: pv.PolyData, result: theme.Result, **options: Any) -> Any:
    """Add a skin coloured by a result or in wood tones; return its actor."""
    if result == "wood":
        return plotter.add_mesh(mesh, scalars="wood", rgb=True, **LIGHT, **options)
    values = mesh.point_data[result] / theme.SCALES[result].factor
    return plotter.add_mesh(
        mesh,
        scalars=result,
        cmap=theme.colour_map(result),
        clim=theme.value_range(result, values),
        show_scalar_bar=False,
        **LIGHT,
        **options,
    )


def add_bow(
    plotter: pv.Plotter, assessment: Assessment, pose: Pose, result: theme.Result, **options: Any
) -> None:
    """Add the bow in one pose: skin, knots and patches in place, grip and string."""
    surface = whole_surface(assessment)
    add_skin(plotter, skin_mesh(pose, surface), result, **options)
    for solid, colour in solids(assessment, surface):
        plotter.add_mesh(solid_mesh(solid, pose), color=colour, **LIGHT)
    half_grip = assessment.setup.stave.stiff_length / 2.0
    if half_grip > 0.0:
        plotter.add_mesh(grip_mesh(pose, surface, half_grip), color=theme.GRIP, **LIGHT)
    if len(pose.string):
        plotter.add_mesh(string_mesh(pose), color=theme.STRING, **LIGHT)


def grip_mesh(pose: Pose, surface: SurfaceField, half_length: float) -> pv.PolyData:
    """Return a thin wrap round the stiff handle."""
    import pyvista as pv

    from limbfe.view.parts import outline_at

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
