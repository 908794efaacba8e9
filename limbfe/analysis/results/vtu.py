"""Write a bow for other viewers: the limb's skin with its fields, as VTU."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from limbfe.analysis.bow.drawn import Pose
from limbfe.analysis.results.skin import spread, sweep_skin
from limbfe.analysis.wood.stress import SurfaceField
from limbfe.frames import Array
from limbfe.whole_file import whole_file

FULL_DRAW = "drawn"
ELSEWHERE = "_at_full_draw"
"""Ending of an array's name when the points show another pose than the field belongs to."""


def write_vtu(path: str | os.PathLike[str], surface: SurfaceField, rest: Pose, pose: Pose) -> Path:
    """Write the limb's skin in one pose with the fields of full draw.

    Parameters
    ----------
    path : path-like
        Written whole or not at all.
    surface : SurfaceField
        At full draw.
    rest : Pose
        Unstrung.
    pose : Pose
        Any pose of the same bow.  The fields are those of full draw; in another pose their
        names end in ``_at_full_draw``.

    Returns
    -------
    pathlib.Path

    Raises
    ------
    LimbfeError
        If the folder cannot be written.

    Notes
    -----
    Point data: ``station_m``, ``displacement_m`` (from the unstrung shape), ``layer`` (0
    heartwood, 1 sapwood, 2 backing), ``axial_strain``, ``axial_stress_Pa`` (along the grain)
    and ``strength_used``.
    """
    ending = "" if pose.name == FULL_DRAW else ELSEWHERE
    _write_skin(Path(path), rest, pose, surface, ending)
    return Path(path)


def write_series(
    path: str | os.PathLike[str],
    rest: Pose,
    steps: Sequence[tuple[Pose, SurfaceField]],
) -> Path:
    """Write the draw as a ``.pvd`` collection with one VTU file per state beside it.

    Parameters
    ----------
    path : path-like
        The collection, ``NAME.pvd``; the states are ``NAME_000.vtu`` and so on.
    rest : Pose
        Unstrung.
    steps : sequence of (Pose, SurfaceField)
        Each state with its own fields.  The time of a state is its draw length in metres.

    Returns
    -------
    pathlib.Path
    """
    target = Path(path)
    root = ElementTree.Element(
        "VTKFile", type="Collection", version="1.0", byte_order="LittleEndian"
    )
    collection = ElementTree.SubElement(root, "Collection")
    for number, (pose, surface) in enumerate(steps):
        part = target.with_name(f"{target.stem}_{number:03d}.vtu")
        _write_skin(part, rest, pose, surface, "")
        ElementTree.SubElement(
            collection, "DataSet", timestep=repr(float(pose.draw_length)), part="0", file=part.name
        )
    ElementTree.indent(root)
    with whole_file(target) as partial:
        ElementTree.ElementTree(root).write(partial, encoding="utf-8", xml_declaration=True)
    return target


def skin_arrays(surface: SurfaceField, ending: str = "") -> dict[str, Array]:
    """Return the named point arrays of a skin, each with its unit in the name."""
    return {
        "layer": spread(surface.layer).round(),
        f"axial_strain{ending}": spread(surface.axial_strain),
        f"axial_stress_Pa{ending}": spread(surface.axial_stress),
        f"strength_used{ending}": spread(surface.strength_used),
    }


def _write_skin(path: Path, rest: Pose, pose: Pose, surface: SurfaceField, ending: str) -> None:
    import meshio

    skin = sweep_skin(pose, surface.x, surface.ring)
    origin = sweep_skin(rest, surface.x, surface.ring)
    mesh = meshio.Mesh(
        points=skin.points,
        cells=[("quad", skin.quads), ("triangle", skin.triangles)],
        point_data={
            "station_m": np.asarray(skin.station),
            "displacement_m": skin.points - origin.points,
            **skin_arrays(surface, ending),
        },
    )
    with whole_file(path) as partial:
        mesh.write(partial, file_format="vtu")
