"""Knots: cones of branch wood, fillers or holes that run through the limb."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import GeometryError, MaterialError
from limbfe.frames import Array, read_only
from limbfe.stave.faces import Face

State = Literal["live", "dead", "missing", "filled"]
Limb = Literal["upper", "lower"]


SWIRL_REACH = 3.0
"""Radii from a knot's middle beyond which the fibres run nearly straight: the disturbance of the
flow round an ellipse falls with the square of the distance, below 7 degrees at three radii."""


def signed_station(limb: str, at: float) -> float:
    """Return the station along the bow of a place on one limb, negative on the lower one, m."""
    return at if limb == "upper" else -at


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Filler:
    """What a hole was filled with.

    Attributes
    ----------
    E : float, Pa
        Young's modulus, isotropic.
    tension, shear : float, Pa
        Strengths; of the bond where that is weaker.
    """

    E: float
    tension: float
    shear: float

    def __post_init__(self) -> None:
        for name in ("E", "tension", "shear"):
            if not getattr(self, name) > 0.0:
                raise MaterialError(
                    f"filler {name} = {getattr(self, name):g} Pa: must be above zero; for an empty "
                    'hole use state = "missing"'
                )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Knot:
    """A knot as a straight circular cone.

    Attributes
    ----------
    name : str
    limb : {"upper", "lower"}
    x : float, m
        Station of the knot's axis on its face, lower limb negative.
    face : {"back", "belly", "left", "right"}
        Face on which it was measured; left and right are the archer's.
    entry : ndarray, shape (3,), m, section coordinates (x, y, z)
        Where the axis meets that face; may lie outside the limb when the knot was carved away.
    direction : ndarray, shape (3,), section axes
        Unit vector of the axis, pointing into the limb.
    length : float, m
        From `entry` along the axis to where it leaves the limb or ends at the pith.
    radius, far_radius : float, m
        Radius at `entry` and at the other end; linear between, and on beyond both ends until the
        cone closes.
    state : {"live", "dead", "missing", "filled"}
    filler : Filler or None
        Given exactly when the state is "filled".
    """

    name: str
    limb: Limb
    x: float
    face: Face
    entry: Array
    direction: Array
    length: float
    radius: float
    far_radius: float
    state: State
    filler: Filler | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "entry", read_only(self.entry, (3,)))
        object.__setattr__(self, "direction", read_only(self.direction, (3,)))
        where = f'knot "{self.name}"'
        if self.state not in get_args(State):
            raise GeometryError(
                f'{where}: state = "{self.state}": use one of {", ".join(get_args(State))}'
            )
        if abs(float(self.direction @ self.direction) - 1.0) > 1e-9:
            raise GeometryError(f"{where}: direction {self.direction.tolist()}: not of length 1")
        if not self.length > 0.0:
            raise GeometryError(f"{where}: length {self.length:g} m: must be above zero")
        if not (self.radius >= 0.0 and self.far_radius >= 0.0):
            raise GeometryError(
                f"{where}: radii {self.radius:g} and {self.far_radius:g} m: cannot be negative"
            )
        if (self.state == "filled") != (self.filler is not None):
            raise GeometryError(
                f'{where}: state = "{self.state}": only state "filled" has a filler, and it must'
            )


def radius_at(knot: Knot, s: Any) -> Array:
    """Return the cone's radius at distance `s` (m) along the axis from `entry`; never negative."""
    along = np.asarray(s, dtype=np.float64)
    slope = (knot.far_radius - knot.radius) / knot.length
    return np.maximum(knot.radius + slope * along, 0.0)


def inside_knot(knot: Knot, x: Any, y: Any, z: Any) -> NDArray[np.bool_]:
    """Return which points lie in the cone.

    Parameters
    ----------
    knot : Knot
    x, y, z : array_like, m, section coordinates
        Broadcast against each other; taken as Cartesian within reach of the knot, over which the
        taper and bend of the limb are negligible.  The cone is not cut off at the faces: the
        points are taken to lie in the limb.
    """
    u, v, w = (np.asarray(p, dtype=np.float64) - knot.entry[i] for i, p in enumerate((x, y, z)))
    s = u * knot.direction[0] + v * knot.direction[1] + w * knot.direction[2]
    distance2 = u * u + v * v + w * w - s * s
    inside: NDArray[np.bool_] = distance2 < radius_at(knot, s) ** 2
    return inside


def knots_meet(one: Knot, two: Knot) -> bool:
    """Return whether two knots share wood, as far as their axes run through the limb."""
    s = np.linspace(0.0, one.length, 65)
    points = one.entry + s[:, None] * one.direction
    along = np.clip((points - two.entry) @ two.direction, 0.0, two.length)
    apart = np.linalg.norm(points - two.entry - along[:, None] * two.direction, axis=1)
    return bool(np.any(apart < radius_at(one, s) + radius_at(two, along)))


def knot_span(knot: Knot) -> tuple[float, float]:
    """Return the lowest and highest station (m) the knot can reach, with room to spare."""
    far = float(knot.entry[0] + knot.length * knot.direction[0])
    reach = 2.0 * max(knot.radius, knot.far_radius)
    return min(float(knot.entry[0]), far) - reach, max(float(knot.entry[0]), far) + reach


def knot_ellipse_at_depth(knot: Knot, z: Any) -> tuple[Array, Array, Array, Array]:
    """Return the knot's trace on planes parallel to the limb's face.

    Parameters
    ----------
    knot : Knot
    z : array_like, shape (...), m
        Height of the plane in section coordinates.

    Returns
    -------
    x, y : ndarray, shape (...), m
        Centre of the trace.
    a, b : ndarray, shape (...), m
        Half lengths along the grain (x) and across it (y); both zero where the cone has closed.

    Notes
    -----
    A plane cuts a cone in an ellipse as long as it passes through one side of it.  A knot that
    lies in the plane (a spike, as from a side face) leaves a wedge instead; its centre and half
    lengths are then those of the wedge between the knot's two ends.
    """
    height = np.asarray(z, dtype=np.float64) - knot.entry[2]
    d, r0 = knot.direction, knot.radius
    k = (knot.far_radius - knot.radius) / knot.length
    flat = d[:2]
    shape = np.eye(2) - (1.0 + k * k) * np.outer(flat, flat)
    if np.linalg.eigvalsh(shape)[0] <= 1e-9:
        return _spike_at_depth(knot, height)
    inverse = np.linalg.inv(shape)
    # On the plane the cone reads u.Q.u + 2 b.u + c = 0 for the offset u = (x, y) from the entry.
    b = -((1.0 + k * k) * d[2] * height + r0 * k)[..., None] * flat
    c = height**2 * (1.0 - (1.0 + k * k) * d[2] ** 2) - 2.0 * r0 * k * d[2] * height - r0 * r0
    center = -b @ inverse
    size = np.einsum("...i,ij,...j->...", b, inverse, b) - c
    along = center @ flat + height * d[2]
    open_ = (size > 0.0) & (r0 + k * along > 0.0)
    root = np.sqrt(np.where(open_, size, 0.0))
    half = root[..., None] * np.sqrt(np.diag(inverse))
    x, y = knot.entry[0] + center[..., 0], knot.entry[1] + center[..., 1]
    return x, y, half[..., 0], half[..., 1]


def _spike_at_depth(knot: Knot, height: Array) -> tuple[Array, Array, Array, Array]:
    """Return centre and half lengths of the trace of a knot that lies in the plane."""
    s = np.linspace(0.0, knot.length, 201)
    flat = np.hypot(knot.direction[0], knot.direction[1])
    off = (height[..., None] - s * knot.direction[2]) / flat
    half = np.sqrt(np.maximum(radius_at(knot, s) ** 2 - off**2, 0.0))
    cut = half > 0.0
    first, last = np.argmax(cut, axis=-1), s.size - 1 - np.argmax(cut[..., ::-1], axis=-1)
    middle, reach = 0.5 * (s[first] + s[last]), 0.5 * (s[last] - s[first])
    widest = half.max(axis=-1)
    lies = np.any(cut, axis=-1)
    u, v = np.abs(knot.direction[:2]) / flat
    a = np.where(lies, reach * np.abs(knot.direction[0]) + widest * v, 0.0)
    b = np.where(lies, reach * np.abs(knot.direction[1]) + widest * u, 0.0)
    return (
        knot.entry[0] + middle * knot.direction[0],
        knot.entry[1] + middle * knot.direction[1],
        a,
        b,
    )
