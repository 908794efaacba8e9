"""The wood of a plate at any point of its depth: fibres, knots, patches, layers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from limbfe.defect.grain_flow import bulge_slope, fibre_angle
from limbfe.defect.plane import knot_stiffness, plane_stiffness
from limbfe.defect.plate.depth import transverse_shear
from limbfe.defect.strip import Ellipse, Ellipses, elliptic_radius
from limbfe.defect.zone import Grain, KnotState, graded_loss
from limbfe.fem.mesh import Index
from limbfe.frames import Array
from limbfe.stave.decay import Decay
from limbfe.stave.knot import Plane
from limbfe.stave.outline import back_z, backing_z, belly_z, sapwood_z, side_y
from limbfe.stave.profile import SectionShapes, shape_at
from limbfe.stave.stave import Stave
from limbfe.stave.zone_label import ZoneLabel
from limbfe.stave.zones import BACKING, HEART, SAP
from limbfe.wood.elasticity import Elasticity

VOID = 1e-4
"""Stiffness of a hole over that of the wood across the grain: the plate's equations stay well
posed where a hole takes only a part of the depth."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """A knot through the depth: its trace at rising depths, straight between them.

    Attributes
    ----------
    name : ZoneLabel or str
    state : {"live", "dead", "missing", "filled"}
    modulus : float or None, Pa
        None takes the modulus of the analysis's knot band.
    poisson : float
    z : ndarray, shape (n,), m
        Increasing.
    traces : ndarray, shape (5, n)
        x, y, a, b (m) and angle (rad); a and b next to nothing where the knot has closed.
    bulge : float
        Height of the rings' bulge over the knot's radius, reached over one radius.
    diverts : bool
        Whether the fibres swerve round it.
    lying : bool
        Whether it runs so nearly in the plane that its traces are stand-ins which no mesh follows.
    """

    name: ZoneLabel | str
    state: KnotState
    modulus: float | None
    poisson: float
    z: Array
    traces: Array
    bulge: float
    diverts: bool
    lying: bool = False


def traces_at(course: Course, z: Array) -> Ellipses:
    """Return a knot's traces at depths (m)."""
    x, y, a, b, angle = (np.interp(z, course.z, row) for row in course.traces)
    return Ellipses(x=x, y=y, a=a, b=b, angle=angle)


def trace_at(course: Course, z: float) -> Ellipse:
    """Return a knot's trace at one depth (m)."""
    x, y, a, b, angle = (float(np.interp(z, course.z, row)) for row in course.traces)
    return Ellipse(x=x, y=y, a=a, b=b, angle=angle)


Left = Callable[[Array | None, Array | None], Array]
"""From strains along the grain at the points and their means over a length of limb, shape (p, n)
both, to what crushing leaves of the stiffness; for None those of the bow's own sections."""

Softening = Callable[[Array, Array, Array], Left]
"""From points (p, 2), depths (p, n) and moduli along the grain (Pa) to what is left there."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlateWood:
    """What a piece of limb is made of.

    Attributes
    ----------
    stave : Stave
        Its outline and layers.
    woods : tuple of Elasticity
        Heartwood, sapwood, backing; the first again for one that is absent.
    knots : tuple of Course
    decays : tuple of Decay
    grading : float
        Part of a patch's radius over which its loss grows.
    grain : Grain
        Far from the knots.
    plane : {"flat", "side"}
        How the limb is looked at: from the back, points of the plane are (x, y) and depths z; from
        its side they are (x, z), and depths y.
    softening : callable or None
        What is left of the stiffness where the belly is crushed; None for wood that stays elastic.
    """

    stave: Stave
    woods: tuple[Elasticity, ...]
    knots: tuple[Course, ...]
    decays: tuple[Decay, ...]
    grading: float
    grain: Grain
    plane: Plane = "flat"
    softening: Softening | None = None

    @property
    def axes(self) -> tuple[int, int]:
        """Which section coordinates lie across the plane and along its depth."""
        return (1, 2) if self.plane == "flat" else (2, 1)


class Faces(NamedTuple):
    """Depths of the boundaries at points of the plane, shape (p,), m.

    Seen from its side a limb reaches from its left to its right, named as belly and back are, and
    its layers lie across the depth.
    """

    belly: Array
    sapwood: Array
    backing: Array
    back: Array


def faces_at(wood: PlateWood, points: Array) -> Faces:
    """Return where the wood begins and ends at points (p, 2) of the plane."""
    picked = _shapes(wood.stave, points[:, 0])
    if wood.plane == "side":
        half = side_y(picked, points[:, 1])
        return Faces(-half, -half, half, half)
    y = points[:, 1]
    low, high = belly_z(picked, y), back_z(picked, y)
    sap = sapwood_z(picked, y) if wood.stave.sapwood_wood is not None else low
    glued = backing_z(picked, y) if wood.stave.backing_wood is not None else high
    return Faces(low, np.clip(sap, low, high), np.clip(glued, low, high), high)


def _shapes(stave: Stave, x: Array) -> SectionShapes:
    """Return the limb's shape at stations (p,); beyond its tips that of the tips."""
    # Points of one mesh share few stations; the shapes are looked up once for each.
    at, which = np.unique(np.round(x, 9), return_inverse=True)
    shapes = shape_at(stave, np.clip(at, stave.x[0], stave.x[-1]))
    return type(shapes)(
        **{
            name: getattr(shapes, name)[which]
            for name in ("x", "width", "thickness", "sapwood", "lean", "backing", "crown")
        },
        belly=shapes.belly,
        belly_corner=shapes.belly_corner,
    )


RIM = 1e-6
"""Part of a knot's radius within which a point lies on its rim."""


@dataclass(frozen=True, slots=True)
class Pressed:
    """A loose knot: it presses where the wood closes on it and holds nothing.

    On the back half of a bent limb fibres that flow round it straighten and close on its `sides`;
    fibres that are cut do not.  On the belly half its ends are pressed.  The other way it lets go.
    Where an edge of the limb cuts it, nothing presses its sides, and where the edge leaves less
    than half of it, the wood behind pushes it out, friction left out: it has fallen out there.
    """

    modulus: float
    sides: bool


Held = float | Pressed | None
"""Young's modulus (Pa) of a knot that is grown in or glued; None where it carries nothing."""


class WoodAt(NamedTuple):
    """The wood at points, shape (p, n): see `wood_at`."""

    kind: Index
    angle: Array
    dive: Array
    inside: Index
    E: Array
    G: Array
    back_half: NDArray[np.bool_]
    gripped: NDArray[np.bool_]
    enclosed: NDArray[np.bool_]


def wood_at(wood: PlateWood, points: Array, faces: Faces, z: Array) -> WoodAt:
    """Return which wood lies at points and how its fibres run.

    Parameters
    ----------
    points : ndarray, shape (p, 2), m
    faces : Faces
        At the points.
    z : ndarray, shape (p, n), m

    Returns
    -------
    WoodAt
        Kind of wood, fibre angle and dive (rad), number of the knot or -1, what decay leaves of its
        stiffness, whether it lies in the half towards the back, and of a knot, whether the limb
        holds more than half of it at that depth, and all of it.
    """
    kind = _kind(wood, points, faces, z)
    at = points[:, None]
    traces = [traces_at(course, z) for course in wood.knots]
    flow = tuple(t for t, c in zip(traces, wood.knots, strict=True) if c.diverts)
    angle = np.broadcast_to(fibre_angle(at, flow, wood.grain.angle), z.shape)
    slope = np.full(z.shape, np.tan(wood.grain.run_out))
    inside = np.full(z.shape, -1)
    gripped, enclosed = np.ones((2, *z.shape), dtype=bool)
    for number, (course, trace) in enumerate(zip(wood.knots, traces, strict=True)):
        radius = np.minimum(trace.a, trace.b)
        if course.bulge:
            slope = slope + bulge_slope(at, angle, trace, course.bulge * radius, radius)
        within = elliptic_radius(trace, at) < 1.0
        inside = np.where(within, number, inside)
        if course.state != "missing":
            rows = np.flatnonzero(within.any(axis=1))
            gripped[rows], enclosed[rows] = _held_in(wood, points[rows], course, z[rows])
    E, G = remaining_at(wood, points, z, "E", "G")
    return WoodAt(
        kind, angle, np.arctan(slope), inside,
        E, G,
        _back_half(wood, points, faces, z), gripped, enclosed,
    )  # fmt: skip


def clear_of_knots(wood: PlateWood, points: Array, z: Array) -> NDArray[np.bool_]:
    """Return whether points (p, 2) at depths z (p, n) lie off every knot; one on a rim does not.

    Knots are measured in the whole millimetres that samples lie apart in: on a rim rounding would
    choose, and not alike on both sides of a limb.
    """
    clear = np.ones(z.shape, dtype=bool)
    for course in wood.knots:
        clear &= elliptic_radius(traces_at(course, z), points[:, None]) > 1.0 + RIM
    return clear


def _held_in(
    wood: PlateWood, points: Array, course: Course, z: Array
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Whether a knot's middle, and its whole width, lie between the limb's edges at depths z."""
    picked, trace = _shapes(wood.stave, points[:, 0]), traces_at(course, z)
    if wood.plane == "side":
        low, high = belly_z(picked, z), back_z(picked, z)
    else:
        high = side_y(picked, z)
        low = -high
    half = np.hypot(trace.a * np.sin(trace.angle), trace.b * np.cos(trace.angle))
    return (
        np.asarray((trace.y > low) & (trace.y < high)),
        np.asarray((trace.y - half >= low) & (trace.y + half <= high)),
    )


def _kind(wood: PlateWood, points: Array, faces: Faces, z: Array) -> Index:
    """Return which wood lies at points, shape (p, n), knots apart."""
    stave = wood.stave
    kind = np.full(z.shape, HEART)
    if stave.sapwood_wood is None and stave.backing_wood is None:
        return kind
    height, sap, glued = z, faces.sapwood[:, None], faces.backing[:, None]
    if wood.plane == "side":
        picked = _shapes(stave, points[:, 0])
        height = np.broadcast_to(points[:, 1, None], z.shape)
        sap, glued = sapwood_z(picked, z), backing_z(picked, z)
    if stave.sapwood_wood is not None:
        kind = np.where(height > sap, SAP, kind)
    if stave.backing_wood is not None:
        kind = np.where(height > glued, BACKING, kind)
    return kind


def _back_half(wood: PlateWood, points: Array, faces: Faces, z: Array) -> NDArray[np.bool_]:
    """Whether points lie in the half towards the back, which on edge is that of larger y."""
    if wood.plane == "side":
        return np.broadcast_to(points[:, 1, None] > 0.0, z.shape)
    return np.asarray(z > 0.5 * (faces.belly + faces.back)[:, None])


def patch_loss(wood: PlateWood, decay: Decay, points: Array, z: Array) -> Array:
    """Return how far a patch's decay has gone: 0 sound, 1 as in the core, shape (p, n)."""
    c, s, (across, deep) = decay.center, decay.semi_axes, wood.axes
    flat = np.hypot((points[:, 0] - c[0]) / s[0], (points[:, 1] - c[across]) / s[across])
    inward = (z - c[deep]) / s[deep]
    within = 1.0 - inward**2
    rho = flat[:, None] / np.sqrt(np.maximum(within, 1e-12))
    return np.where(within > 0.0, graded_loss(rho, wood.grading), 0.0)


def remaining_at(wood: PlateWood, points: Array, z: Array, *names: str) -> list[Array]:
    """Return the multiplier of every property, shape (p, n); where patches overlap the worse."""
    left = [np.ones(z.shape) for _ in names]
    for decay in wood.decays:
        gone = patch_loss(wood, decay, points, z)
        for k, name in enumerate(names):
            left[k] = np.minimum(left[k], 1.0 - (1.0 - getattr(decay.effect, name)) * gone)
    return left


def depth_breaks(wood: PlateWood, points: Array, faces: Faces) -> Array:
    """Return the depths between which the wood changes smoothly, shape (p, b), m, increasing."""
    low, high = faces.belly, faces.back
    breaks = [low, 0.5 * (low + high), high]
    if wood.stave.sapwood_wood is not None and wood.plane == "flat":
        breaks.append(faces.sapwood)
    if wood.stave.backing_wood is not None and wood.plane == "flat":
        breaks.append(faces.backing)
    for decay in wood.decays:
        c, s, (across, deep) = decay.center, decay.semi_axes, wood.axes
        flat2 = ((points[:, 0] - c[0]) / s[0]) ** 2
        flat2 += ((points[:, 1] - c[across]) / s[across]) ** 2
        reach = s[deep] * np.sqrt(np.maximum(1.0 - flat2, 0.0))
        breaks += [np.clip(c[deep] + sign * reach, low, high) for sign in (-1.0, 1.0)]
    share = np.linspace(0.0, 1.0, _LOOKS)
    z = low[:, None] + share * (high - low)[:, None]
    for course in wood.knots:
        beyond = elliptic_radius(traces_at(course, z), points[:, None]) - 1.0
        change = (beyond[:, 1:] > 0.0) != (beyond[:, :-1] > 0.0)
        for first in range(2) if change.any() else ():
            k = np.where(first == 0, change.argmax(axis=1), _LOOKS - 2 - change[:, ::-1].argmax(1))
            row = np.arange(len(z))
            before = beyond[row, k]
            after = np.where(beyond[row, k + 1] == before, before - 1.0, beyond[row, k + 1])
            at = z[row, k] + (z[row, k + 1] - z[row, k]) * before / (before - after)
            breaks.append(np.where(change.any(axis=1), at, breaks[1]))
    return np.sort(np.stack(breaks, axis=1), axis=1)


_LOOKS = 17
"""Depths at which the side of a knot's rim is looked up, to find where it crosses a column."""


def void_modulus(wood: PlateWood) -> float:
    """Return the Young's modulus that stands for nothing, Pa."""
    return VOID * wood.woods[HEART].E_T


def column_stiffness(
    wood: PlateWood, here: WoodAt, moduli: tuple[Held, ...]
) -> tuple[Array, Array]:
    """Return stiffness in the plane, (p, n, 3, 3), and against transverse shear, (p, n, 3), Pa.

    Parameters
    ----------
    here : WoodAt
    moduli : tuple of Held
        Of each knot.
    """
    Q = np.empty((*here.kind.shape, 3, 3))
    C_s = np.empty((*here.kind.shape, 3))
    for kind in np.unique(here.kind):
        one, at = wood.woods[kind], here.kind == kind
        Q[at] = plane_stiffness(one, here.angle[at], here.dive[at], here.E[at], here.G[at])
        C_s[at] = here.G[at][:, None] * transverse_shear(one.G_LR, one.G_RT, here.angle[at])
    void = void_modulus(wood)
    for number, (course, modulus) in enumerate(zip(wood.knots, moduli, strict=True)):
        at = here.inside == number
        if isinstance(modulus, Pressed):
            Q[at], C_s[at] = knot_stiffness(void, course.poisson), np.array([void, void, 0.0])
            Q[at & ~here.back_half & here.gripped, 0, 0] = modulus.modulus
            if modulus.sides:
                Q[at & here.back_half & here.enclosed, 1, 1] = modulus.modulus
            continue
        E = void if modulus is None else modulus
        Q[at] = knot_stiffness(E, course.poisson)
        shear = 0.5 * E / (1.0 + course.poisson)
        C_s[at] = np.array([shear, shear, 0.0])
    return Q, C_s
