"""Sections at stations along the limb: outline, mesh, integration points, stiffness."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.setup import BowSetup
from limbfe.frames import Array, read_only
from limbfe.section.meshing.mesh import SectionMesh, integration_points, section_mesh
from limbfe.section.meshing.zone_lines import zone_lines
from limbfe.section.stiffness import SectionStiffness, section_stiffness
from limbfe.stave.field import wood_at
from limbfe.stave.knot import inside_knot
from limbfe.stave.profile import SectionShapes, shape_at
from limbfe.stave.stave import Stave


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stations:
    """S stations of a bow, each with its section meshed and solved.

    Attributes
    ----------
    setup : BowSetup
    x : ndarray, shape (S,), m
        Along the bow, in order.
    shapes : SectionShapes
    mesh : SectionMesh
        One topology for all S sections.
    points : ndarray, shape (S, m, q, 2), m
        Integration points (y, z).
    sections : SectionStiffness
    """

    setup: BowSetup
    x: Array
    shapes: SectionShapes
    mesh: SectionMesh
    points: Array
    sections: SectionStiffness

    @property
    def bends(self) -> NDArray[np.bool_]:
        """Which stations lie outside the stiff grip, shape (S,)."""
        return self.setup.stave.bends(self.x)


def solve_stations(setup: BowSetup, x: Array) -> Stations:
    """Mesh and solve the sections at stations `x`, shape (S,), with every zone in them.

    Raises
    ------
    GeometryError
        If a station lies beyond a tip or an outline collapses.
    MaterialError
        If the wood at a point has no positive-definite stiffness.
    """
    stave, at = setup.stave, read_only(x)
    shapes = shape_at(stave, at)
    mesh = section_mesh(
        shapes, fineness=setup.analysis.fineness, y_breaks=knot_lines(stave, shapes)
    )
    points, _ = integration_points(mesh)
    place = (at[:, None, None], points[..., 0], points[..., 1])
    sections = section_stiffness(mesh, *wood_at(stave, *place))
    return Stations(setup=setup, x=at, shapes=shapes, mesh=mesh, points=points, sections=sections)


def knot_lines(stave: Stave, shapes: SectionShapes) -> Array | None:
    """Return the lines along the sides of the knots that columns of elements shall follow."""
    if not stave.knots:
        return None
    lines = [zone_lines(shapes, partial(inside_knot, knot)) for knot in stave.knots]
    return np.concatenate(lines, axis=1)
