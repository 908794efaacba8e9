"""Stress of one layer of a plate for pictures, and along the rims of its fillings."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from limbfe.defect.plane import fibre_stress, knot_stiffness
from limbfe.defect.plate.body import BodyMesh, Member, member_profiles
from limbfe.defect.plate.layer import Layer, Raster, Span
from limbfe.defect.plate.profiles import values
from limbfe.defect.plate.wood import column_stiffness, faces_at, wood_at
from limbfe.defect.recovery import Corners
from limbfe.defect.strip import Ellipse, rim
from limbfe.defect.zone import KnotTrace
from limbfe.failure.bond import rim_used
from limbfe.failure.problem import DepthLayer, StressField
from limbfe.frames import Array
from limbfe.stave.knot_wood import KNOT_MODULUS_TYPICAL

_RIM = 120


def _strain(meshed: BodyMesh, z: Array, strains: Array, member: Member) -> Array:
    """Strain at depths z of places whose strains of every u_k are given, shape (n, 3)."""
    profiles = member_profiles(meshed, member)
    own = strains.reshape(len(z), profiles.count, 3)
    total: Array = np.einsum("kn,nkc->nc", values(profiles, z)[0], own)
    return total


def layer_field(
    meshed: BodyMesh,
    corners: Corners,
    layer: Layer,
    piece: DepthLayer,
    moved: tuple[Array, Array],
    used: Mapping[str, float],
    member: Member,
) -> StressField:
    """Return the stress in the middle of a layer at the elements' nodes.

    Parameters
    ----------
    moved : tuple of ndarray, shapes (n, 2 K + 1) and (pairs, K 3)
        Displacements of the nodes (m), and strains of every u_k at region nodes.
    used : mapping of str to float
        Typical strength used per mode.
    member : {"full", "quick"}
        Of the plate that was strained.
    """
    mesh, wood = meshed.mesh.mesh, meshed.body.wood
    share = 0.5 * (layer.span.low + layer.span.high)
    displacement, strains = moved
    points = mesh.nodes[corners.node]
    faces = faces_at(wood, points)
    z = faces.belly + share * (faces.back - faces.belly)
    here = wood_at(wood, points, faces, z[:, None])
    clear = here._replace(inside=np.full_like(here.inside, -1))
    Q, _ = column_stiffness(wood, clear, (None,) * len(wood.knots))
    strain = _strain(meshed, z, strains, member)
    stress = fibre_stress(np.einsum("nij,nj->ni", Q[:, 0], strain), here.angle[:, 0])
    middle = mesh.nodes[mesh.elements[:, :3]].mean(axis=1)
    faces = faces_at(wood, middle)
    at = faces.belly + share * (faces.back - faces.belly)
    part = wood_at(wood, middle, faces, at[:, None]).inside[:, 0]
    out = stress[corners.number]
    for number, course in enumerate(wood.knots):
        inner = part == number
        held = course.state not in ("missing", "dead")
        E = (course.modulus or KNOT_MODULUS_TYPICAL) if held else 0.0
        out[inner] = strain[corners.number[inner]] @ knot_stiffness(E, course.poisson)
    return StressField(
        z=piece.z,
        nodes=mesh.nodes,
        elements=mesh.elements,
        part=part,
        stress=out,
        angle=here.angle[:, 0][corners.number],
        dive=here.dive[:, 0][corners.number],
        used=used,
        moved=_moved(meshed, share, displacement, member),
    )


def _moved(meshed: BodyMesh, share: float, displacement: Array, member: Member) -> Array:
    """Displacements of a plate's nodes at a depth, shape (n, 3), m."""
    faces = faces_at(meshed.body.wood, meshed.mesh.mesh.nodes)
    F = values(member_profiles(meshed, member), faces.belly + share * (faces.back - faces.belly))[0]
    u = displacement[:, :-1].reshape(len(displacement), -1, 2)
    return np.column_stack([np.einsum("kn,nkc->nc", F, u), displacement[:, -1]])


def layer_bond(
    meshed: BodyMesh,
    raster: Raster,
    layer: Layer,
    piece: DepthLayer,
    strains: Array,
    window: float,
    member: Member,
) -> float:
    """Return the largest strength used of the bonds of filled knots on a layer; 0 without any.

    Parameters
    ----------
    strains : ndarray, shape (w, K 3)
        Of every u_k at the raster's points.
    window : float, m
        Length along the rim over which traction is averaged.
    member : {"full", "quick"}
        Of the plate that was strained.
    """
    worst = 0.0
    states = {str(course.name): course.state for course in meshed.body.wood.knots}
    for knot in piece.knots:
        if knot.state == "filled" and states.get(str(knot.name)) == "filled":
            worst = max(worst, _bond(meshed, raster, layer.span, knot, (strains, member), window))
    return worst


def _bond(
    meshed: BodyMesh,
    raster: Raster,
    span: Span,
    knot: KnotTrace,
    strained: tuple[Array, Member],
    window: float,
) -> float:
    """As `layer_bond`, of one filling, from the raster's points nearest to its rim inside it."""
    grid, e = raster.grid, knot.ellipse
    t = np.linspace(0.0, 2.0 * np.pi, _RIM + 1)
    ends = rim(e, t)
    inset = 1.0 - grid.step / min(e.a, e.b)
    inner = rim(Ellipse(x=e.x, y=e.y, a=e.a * inset, b=e.b * inset, angle=e.angle), t)
    spots = 0.5 * (inner[1:] + inner[:-1])
    i, j = np.round((spots - grid.origin) / grid.step).astype(np.intp).T
    lost = (i < 0) | (j < 0) | (i >= grid.shape[0]) | (j >= grid.shape[1])
    number = np.where(lost, -1, i * grid.shape[1] + j)
    row = np.minimum(np.searchsorted(raster.covered, number), len(raster.covered) - 1)
    found = raster.covered[row] == number
    row = row[found]
    share = 0.5 * (span.low + span.high)
    strains, member = strained
    z = raster.belly[row] + share * (raster.back[row] - raster.belly[row])
    assert knot.modulus is not None
    stress = _strain(meshed, z, strains[row], member) @ knot_stiffness(knot.modulus, knot.poisson)
    return rim_used(stress, ends[:-1][found], ends[1:][found], knot, window)
