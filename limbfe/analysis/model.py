"""From the stave to a bow that can be drawn: sections at every Gauss station, chain, string."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from limbfe.analysis.nodes import node_positions
from limbfe.analysis.settings import BowSetup
from limbfe.beam import Bow, BowString, Chain, Hold, gauss_positions
from limbfe.frames import Array, read_only
from limbfe.section.mesh import SectionMesh, integration_points, section_mesh
from limbfe.section.stiffness import SectionStiffness, section_stiffness
from limbfe.section.zone_lines import zone_lines
from limbfe.stave.field import wood_at
from limbfe.stave.knot import inside_knot
from limbfe.stave.profile import SectionShapes, axis_at, shape_at
from limbfe.stave.stave import Stave


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LimbModel:
    """The finite-element model of one bow at rest.

    Attributes
    ----------
    node_x : ndarray, shape (n,), m
        Beam nodes along the bow, lower nock to upper nock.
    x : ndarray, shape (S,), m
        Gauss stations of the beam, in order; every one carries a section.
    shapes : SectionShapes
    mesh : SectionMesh
        One topology for all S sections.
    points : ndarray, shape (S, m, q, 2), m
        Integration points (y, z).
    sections : SectionStiffness
    bow : Bow
    """

    setup: BowSetup
    node_x: Array
    x: Array
    shapes: SectionShapes
    mesh: SectionMesh
    points: Array
    sections: SectionStiffness
    bow: Bow


def build_model(setup: BowSetup) -> LimbModel:
    """Mesh and solve every section, then assemble the beam chain and its string.

    Raises
    ------
    GeometryError
        If an outline collapses at a station.
    MaterialError
        If the wood at a point has no positive-definite stiffness.
    """
    stave = setup.stave
    node_x = node_positions(setup)
    gauss_x = gauss_positions(node_x)
    x = read_only(gauss_x.ravel())
    shapes, mesh, sections = solve_sections(setup, x)
    points, _ = integration_points(mesh)
    positions, rotations = axis_at(stave, node_x)
    chain = Chain(
        positions=positions,
        rotations=rotations,
        stiffness=read_only(sections.K.reshape(*gauss_x.shape, 6, 6)),
        mass=read_only(sections.mass.reshape(*gauss_x.shape, 6, 6)),
    )
    return LimbModel(
        setup=setup,
        node_x=node_x,
        x=x,
        shapes=shapes,
        mesh=mesh,
        points=points,
        sections=sections,
        bow=_string_up(setup, node_x, chain),
    )


def solve_sections(
    setup: BowSetup, x: Array
) -> tuple[SectionShapes, SectionMesh, SectionStiffness]:
    """Mesh and solve the sections at stations `x`, shape (S,), with every zone in them.

    Raises
    ------
    GeometryError
        If a station lies beyond a tip or an outline collapses.
    MaterialError
        If the wood at a point has no positive-definite stiffness.
    """
    stave = setup.stave
    shapes = shape_at(stave, x)
    mesh = section_mesh(shapes, fineness=setup.fineness, y_breaks=knot_lines(stave, shapes))
    points, _ = integration_points(mesh)
    place = (np.asarray(x)[:, None, None], points[..., 0], points[..., 1])
    return shapes, mesh, section_stiffness(mesh, *wood_at(stave, *place))


def knot_lines(stave: Stave, shapes: SectionShapes) -> Array | None:
    """Return the lines along the sides of the knots that columns of elements shall follow."""
    if not stave.knots:
        return None
    lines = [zone_lines(shapes, partial(inside_knot, knot)) for knot in stave.knots]
    return np.concatenate(lines, axis=1)


def grip_points(setup: BowSetup) -> Array:
    """Return where the bow is held and its belly and back at mid-grip, shape (3, 3), m."""
    hand = _hand(setup)
    places, frames = axis_at(setup.stave, np.array([hand, 0.0]))
    half = 0.5 * shape_at(setup.stave, np.array([hand, 0.0])).thickness
    belly, back = places - half[:, None] * frames[..., 2], places + half[:, None] * frames[..., 2]
    return np.stack([belly[0], belly[1], back[1]])


def _hand(setup: BowSetup) -> float:
    return setup.hand_at if setup.hold == "hand" else 0.0


def _string_up(setup: BowSetup, node_x: Array, chain: Chain) -> Bow:
    half_grip = setup.stave.stiff_length / 2.0
    offset = read_only([0.0, 0.0, setup.nock_offset])
    if half_grip > 0.0:
        clamped = np.flatnonzero(np.abs(node_x) <= half_grip + 1e-12)
    else:
        clamped = np.array([int(np.argmin(np.abs(node_x - _hand(setup))))])
    held, grip_belly, grip_back = (read_only(point) for point in grip_points(setup))
    return Bow(
        chain=chain,
        clamped=clamped,
        string=BowString(
            stiffness=setup.string_stiffness,
            mass=setup.string_mass,
            nock_lower=offset,
            nock_upper=offset,
        ),
        hold=Hold(
            kind=setup.hold,
            point=held,
            half_length=half_grip,
        ),
        grip_belly=grip_belly,
        grip_back=grip_back,
        arrow_z=setup.arrow_at,
    )
