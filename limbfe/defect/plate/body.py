"""The piece of limb round a zone as one plate: outline, mesh, wood by depth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from limbfe.defect.mesh import BRIDGE, StripMesh, refuse_overlap, strip_mesh
from limbfe.defect.mirror import Turn, turned_ellipse, turned_mesh, turned_strip
from limbfe.defect.plane import knot_stiffness
from limbfe.defect.plate.depth import Columns, Integrals, gauss_columns, integrate
from limbfe.defect.plate.ends import End, end_of
from limbfe.defect.plate.plate import Plate
from limbfe.defect.plate.profiles import Profiles, cubic, straight
from limbfe.defect.plate.wood import (
    Course,
    Faces,
    Held,
    PlateWood,
    Pressed,
    WoodAt,
    column_stiffness,
    depth_breaks,
    faces_at,
    trace_at,
    void_modulus,
    wood_at,
)
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip, elliptic_radius, half_extent, rim
from limbfe.fem.mesh import Quadrature, quadrature
from limbfe.fem.quadrature import triangle_rule
from limbfe.frames import Array
from limbfe.stave.knot_wood import KNOT_MODULUS_TYPICAL

Member = Literal["full", "quick"]
FADE = 0.6
"""Side of elements at a patch over the length in which its loss fades, and below."""
PATCH_SIDES = 1.5, 6.0
"""Shortest and longest side there over that at a knot: a patch has no rim to follow."""
PATCH_COUNT = 80.0
"""Elements along half a patch at the most: what changes over the length of a long one does so as
slowly as the bow's own sections, and memory would grow with its length."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlateBody:
    """A piece of limb and what loads it.

    Attributes
    ----------
    strip : Strip
        Its outline in the plane of the plate, see `PlateWood.plane`.
    wood : PlateWood
    resultants : ndarray, shape (6,), N and N m
        ``[N, Vy, Vz, T, My, Mz]`` in the middle of the strip, in the plate's own axes: seen from
        the side as `from_the_side` has them.
    """

    strip: Strip
    wood: PlateWood
    resultants: Array


def from_the_side(resultants: Array) -> Array:
    """Return a section's resultants (6,) in the axes of a plate that is seen from the side.

    Its y is the section's z and its depth the section's y, so that the sense of turns is the other.
    """
    N, Vy, Vz, T, My, Mz = resultants
    return np.array([N, Vz, Vy, -T, -Mz, -My])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BodyMesh:
    """A piece of limb meshed, its wood looked up.

    Attributes
    ----------
    body : PlateBody
    mesh : StripMesh
    at : Quadrature
    points : ndarray, shape (p, 2), m
        The quadrature points one by one.
    faces : Faces
    columns : Columns
    here : WoodAt
        At the points of the columns; its stiffness is that of crushed wood where it is.
    intact : WoodAt
        The same before anything is crushed.
    low, high : End
    levels : tuple of float, m
        Faces in the middle of the piece.
    """

    body: PlateBody
    mesh: StripMesh
    at: Quadrature
    points: Array
    faces: Faces
    columns: Columns
    here: WoodAt
    intact: WoodAt
    low: End
    high: End
    levels: tuple[float, float]


def mesh_body(body: PlateBody, fineness: Fineness, *, hollow: bool = True) -> BodyMesh:
    """Mesh a piece of limb and look up its wood.

    Parameters
    ----------
    body : PlateBody
    fineness : Fineness
    hollow : bool
        Leave holes through the limb without elements; else these are next to nothing, and the same
        mesh serves the piece of sound limb.

    Raises
    ------
    GeometryError
        If knots overlap or the mesh cannot be made.
    """
    wood = body.wood
    middle = np.array([[0.5 * (body.strip.x[0] + body.strip.x[-1]), 0.0]])
    faces = faces_at(wood, middle)
    levels = float(faces.belly[0]), float(faces.back[0])
    _refuse_crossing(wood.knots, levels)
    fitted, open_, names, loose, courses = _lines(body, levels)
    wood = replace(wood, knots=courses)
    body = replace(body, wood=wood)
    for decay in wood.decays:
        c, s, (across, _) = decay.center, decay.semi_axes, wood.axes
        side = FADE * wood.grading * float(min(s[0], s[across]))
        patch = Ellipse(x=float(c[0]), y=float(c[across]), a=float(s[0]), b=float(s[across]))
        low, high = (share * fineness.near for share in PATCH_SIDES)
        low = max(low, s[0] / PATCH_COUNT)
        loose.append((patch, float(np.clip(side, low, max(low, high)))))
    turn = _turn(body, [*fitted, *(e for e, _ in loose)])
    made = strip_mesh(
        turned_strip(body.strip, turn), tuple(turned_ellipse(e, turn) for e in fitted), fineness,
        hollow=open_ if hollow else None, names=names,
        refine=tuple((turned_ellipse(e, turn), side or fineness.near) for e, side in loose),
    )  # fmt: skip
    mesh = turned_mesh(made, turn)
    at = quadrature(mesh.mesh, *triangle_rule(4))
    points = at.points.reshape(-1, 2)
    faces = faces_at(wood, points)
    breaks = depth_breaks(wood, points, faces)
    columns = gauss_columns(breaks, 4 if breaks.shape[1] == 3 else 3)
    here = wood_at(wood, points, faces, columns.z)
    ends = []
    for nodes in (mesh.low_end, mesh.high_end):
        cut = faces_at(wood, mesh.mesh.nodes[nodes])
        ends.append(end_of(mesh.mesh, nodes, cut.belly, cut.back))
    return _crushed(BodyMesh(
        body=body, mesh=mesh, at=at, points=points, faces=faces, columns=columns,
        here=here, intact=here, low=ends[0], high=ends[1], levels=levels,
    ))  # fmt: skip


def under(meshed: BodyMesh, body: PlateBody) -> BodyMesh:
    """Return a meshed piece of limb under the load of another draw, its wood crushed by that.

    Parameters
    ----------
    meshed : BodyMesh
        As `mesh_body` returned it.
    body : PlateBody
        Of the same shape and wood.
    """
    wood = replace(body.wood, knots=meshed.body.wood.knots)
    return _crushed(replace(meshed, body=replace(body, wood=wood)))


def _crushed(meshed: BodyMesh) -> BodyMesh:
    """Give wood the stiffness that crushing leaves it in the bow's own sections."""
    wood, intact = meshed.body.wood, meshed.intact
    if wood.softening is None:
        return meshed
    along = np.array([one.E_L for one in wood.woods])[intact.kind] * intact.E
    left = wood.softening(meshed.points, meshed.columns.z, along)(None, None)
    return replace(meshed, here=intact._replace(E=intact.E * left))


def body_plate(meshed: BodyMesh, moduli: tuple[Held, ...], member: Member) -> Plate:
    """Return the plate of a meshed piece of limb.

    Parameters
    ----------
    moduli : tuple of Held
        Of each knot.
    member : {"full", "quick"}
        Sections that warp as a cubic through the depth, or stay straight.
    """
    profiles = member_profiles(meshed, member)
    Q, C_s = column_stiffness(meshed.body.wood, meshed.here, moduli)
    own = integrate(profiles, meshed.columns, Q, C_s)
    return Plate(
        mesh=meshed.mesh.mesh,
        at=meshed.at,
        profiles=profiles,
        integrals=_tied(own, meshed, profiles, moduli),
        low=meshed.low,
        high=meshed.high,
    )


def _tied(
    own: Integrals, meshed: BodyMesh, profiles: Profiles, moduli: tuple[Held, ...]
) -> Integrals:
    """Add a void as deep as the limb's middle where a knot that holds nothing lies.

    At a round limb's edge the depth runs out to nothing, and on so short a column the functions of
    depth can hardly be told apart: a void no deeper than that leaves them free to move.
    """
    free = [k for k, E in enumerate(moduli) if E is None or isinstance(E, Pressed)]
    at = np.isin(meshed.here.inside, free).any(axis=1)
    if not at.any():
        return own
    void = void_modulus(meshed.body.wood)
    column = gauss_columns(np.array([meshed.levels]), 4)
    shape = column.z.shape
    Q = np.broadcast_to(knot_stiffness(void, 0.0), (*shape, 3, 3))
    shear = np.broadcast_to(np.array([0.5 * void, 0.5 * void, 0.0]), (*shape, 3))
    more = integrate(profiles, column, Q, shear)
    return Integrals(
        **{name: getattr(own, name) + at.reshape(-1, *[1] * (getattr(own, name).ndim - 1))
           * getattr(more, name) for name in ("D", "H", "h", "S")}
    )  # fmt: skip


def _turn(body: PlateBody, zones: list[Ellipse]) -> Turn:
    """Return how a piece is seen when it is meshed: from the grip on, its zones on the left."""
    x = 1.0 if body.strip.x[0] + body.strip.x[-1] >= 0.0 else -1.0
    aside = sum(e.y * e.a * e.b for e in zones)
    size = sum(e.b * e.a * e.b for e in zones)
    if abs(aside) <= 1e-6 * size:
        aside = x * body.wood.grain.angle
    return Turn(x, 1.0 if aside >= 0.0 else -1.0)


def typical_moduli(knots: tuple[Course, ...]) -> tuple[float | None, ...]:
    """Return the middle of the band of every knot's modulus, Pa; None where it carries nothing."""
    return tuple(
        None if k.state in ("missing", "dead") else k.modulus or KNOT_MODULUS_TYPICAL for k in knots
    )


def member_profiles(meshed: BodyMesh, member: Member) -> Profiles:
    """Return the functions of depth of a member."""
    return (cubic if member == "full" else straight)(*meshed.levels)


_Lines = tuple[
    tuple[Ellipse, ...],
    tuple[bool, ...],
    tuple[str, ...],
    list[tuple[Ellipse, float]],
    tuple[Course, ...],
]


def _lines(body: PlateBody, levels: tuple[float, float]) -> _Lines:
    """Return what the mesh follows: ellipses, holes, their names, places to refine, the knots.

    A knot as good as cylindrical is made so; of a cone the traces on both faces are followed, of
    one that leans so far that they cross, the trace at mid-depth.  A hole through the limb has no
    elements where it is open at every depth.
    """
    fitted: list[Ellipse] = []
    hollow: list[bool] = []
    names: list[str] = []
    loose: list[tuple[Ellipse, float]] = []
    courses: list[Course] = []
    ends = (float(body.strip.x[0]), float(body.strip.x[-1]))
    for course in body.wood.knots:
        belly, back = (trace_at(course, z) for z in levels)
        middle = trace_at(course, 0.5 * (levels[0] + levels[1]))
        closed = min(belly.a, back.a) < BRIDGE * max(belly.a, back.a)
        reach = max(half_extent(e)[0] for e in (belly, back))
        straddles = any(abs(end - middle.x) < 1.2 * reach for end in ends)
        if course.lying:
            loose.append((middle, 0.0))
        if course.lying or straddles or not ends[0] < middle.x < ends[1]:
            courses.append(course)
            continue
        alike = _apart(belly, back) < BRIDGE and not closed
        if alike:
            rows = np.array([middle.x, middle.y, middle.a, middle.b, middle.angle])
            course = replace(course, traces=np.tile(rows[:, None], (1, len(course.z))))
            lines = [middle]
        elif closed:
            lines = [max(belly, back, key=lambda e: e.a)]
        elif _nested(belly, back):
            lines = sorted([belly, back], key=lambda e: e.a)
        else:
            lines = [middle]
            loose += [(belly, 0.0), (back, 0.0)]
        through = course.state == "missing" and not closed and (alike or len(lines) == 2)
        courses.append(course)
        fitted += lines
        hollow += [through, *[False] * (len(lines) - 1)]
        names += [str(course.name)] * len(lines)
    return tuple(fitted), tuple(hollow), tuple(names), loose, tuple(courses)


def _apart(one: Ellipse, two: Ellipse) -> float:
    """How far two ellipses lie apart, over their size."""
    t = np.linspace(0.0, 2.0 * np.pi, 61)
    return float(np.abs(elliptic_radius(one, rim(two, t)) - 1.0).max())


def _nested(one: Ellipse, two: Ellipse) -> bool:
    t = np.linspace(0.0, 2.0 * np.pi, 121)
    inner, outer = sorted((one, two), key=lambda e: e.a)
    return bool(elliptic_radius(outer, rim(inner, t)).max() < 1.0 - 1.5 * BRIDGE)


def _refuse_crossing(knots: tuple[Course, ...], levels: tuple[float, float]) -> None:
    squarely = tuple(course for course in knots if not course.lying)
    names = tuple(str(course.name) for course in squarely)
    for z in np.linspace(*levels, 5):
        open_ = [(trace_at(c, float(z)), n) for c, n in zip(squarely, names, strict=True)]
        kept = [(e, n) for e, n in open_ if min(e.a, e.b) > _CLOSED]
        refuse_overlap(tuple(e for e, _ in kept), tuple(n for _, n in kept))


_CLOSED = 1e-4
"""Half width (m) of a knot that is as good as closed."""
