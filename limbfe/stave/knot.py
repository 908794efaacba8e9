"""Knots: cones of branch wood, fillers or holes that run through the limb."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import GeometryError
from limbfe.frames import Array, read_only

Face = Literal["back", "belly", "left", "right"]
State = Literal["live", "dead", "missing", "filled"]
Limb = Literal["upper", "lower"]


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
                raise GeometryError(
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
        Broadcast against each other.  The cone is not cut off at the faces: the points are taken
        to lie in the limb.
    """
    u, v, w = (np.asarray(p, dtype=np.float64) - knot.entry[i] for i, p in enumerate((x, y, z)))
    s = u * knot.direction[0] + v * knot.direction[1] + w * knot.direction[2]
    distance2 = u * u + v * v + w * w - s * s
    inside: NDArray[np.bool_] = distance2 < radius_at(knot, s) ** 2
    return inside


def knot_span(knot: Knot) -> tuple[float, float]:
    """Return the lowest and highest station (m) the knot can reach, with room to spare."""
    far = float(knot.entry[0] + knot.length * knot.direction[0])
    reach = 2.0 * max(knot.radius, knot.far_radius)
    return min(float(knot.entry[0]), far) - reach, max(float(knot.entry[0]), far) + reach
