"""Knots: cones of branch wood, fillers or holes that run through the limb."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import GeometryError, MaterialError
from limbfe.frames import Array, read_only
from limbfe.stave.marks import Face, Limb
from limbfe.stave.zone_label import ZoneLabel

State = Literal["live", "dead", "missing", "drilled", "filled"]
Plane = Literal["flat", "side"]
_PLANES = {"flat": ((0, 1), 2), "side": ((0, 2), 1)}
LONGEST_CUT = 4.0
"""Half length of a cut, over the knot's length, from which on the plane runs along the branch."""

SWIRL_REACH = 3.0
"""Radii from a knot's middle beyond which the fibres run nearly straight: the disturbance of the
flow round an ellipse falls with the square of the distance, below 7 degrees at three radii."""


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
                    'hole use state = "missing" or "drilled"'
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
        Unit vector of the axis, pointing into the limb; with a part along x for a branch that
        leans along it.
    length : float, m
        From `entry` along the axis to where it leaves the limb or ends at the pith.
    radius, far_radius : float, m
        Radius at `entry` and at the other end; linear between, and on beyond both ends until the
        cone closes.
    state : {"live", "dead", "missing", "drilled", "filled"}
        Grown in; loose; fallen out, so that the fibres flow round the hole; a hole that cuts them,
        drilled, carved or worn; fallen out and filled.
    filler : Filler or None
        Given when the state is "filled", and of a drilled hole that was filled.
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
        where = self.label
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
        may, must = self.state in ("filled", "drilled"), self.state == "filled"
        if (self.filler is None and must) or (self.filler is not None and not may):
            raise GeometryError(
                f'{where}: state = "{self.state}": "filled" has a filler, "drilled" may have one, '
                "other states have none"
            )

    @property
    def kind(self) -> Literal["knot"]:
        """Which sort of zone it is."""
        return "knot"

    @property
    def hollow(self) -> bool:
        """Whether it is a hole with nothing in it."""
        return self.filler is None and self.state in ("missing", "drilled")

    @property
    def label(self) -> ZoneLabel:
        """What names it."""
        return ZoneLabel("knot", self.name)

    @property
    def extent(self) -> tuple[float, float]:
        """Station of its mark and how far it reaches from there along the limb (m)."""
        leans = self.length * abs(float(self.direction[0]))
        return self.x, leans + max(self.radius, self.far_radius)


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnotCut:
    """The ellipse in which a plane cuts a knot.

    Attributes
    ----------
    x, across : float, m
        Its centre: along the limb, and across it (y) or from belly to back (z).
    a, b : float, m
        Semi-axes, a along the direction turned by `angle` from x.
    angle : float, rad
    closed : bool
        False where the plane runs along the branch and the cut is no ellipse: see
        `knot_ellipse_at_depth`.
    """

    x: float
    across: float
    a: float
    b: float
    angle: float
    closed: bool


def knot_ellipse_at_depth(knot: Knot, depth: float, plane: Plane = "flat") -> KnotCut | None:
    """Return where a plane cuts a knot's cone, None where it does not.

    Parameters
    ----------
    knot : Knot
    depth : float, m
        Height z of a plane parallel to the back ("flat"), place y of one parallel to the sides
        ("side"); section coordinates.
    plane : {"flat", "side"}

    Notes
    -----
    With t along the branch's shadow on the plane and v square to it, both from the foot of `entry`,
    the plane being h away, and ``s = f t + h n`` the distance along the axis (f, n the axis's parts
    in the plane and square to it), the cone ``t^2 + v^2 + h^2 - s^2 = (r + k s)^2`` reads
    ``v^2 = gamma + 2 beta t - lambda t^2``: an ellipse where ``lambda = 1 - (1 + k^2) f^2`` is
    positive.  Its axes are exact; parts of it that lie outside the limb mean nothing.

    A plane along the branch leaves a wedge or a band between the knot's two ends, or an ellipse
    many times longer than the knot.  In its stead comes the ellipse that is as wide as the wedge
    where the knot is wider, at that end, and reaches to its point; or, where the knot goes through,
    one that is as wide as the band at both ends.  Between, it covers more than the wedge.
    """
    (first, second), out = _PLANES[plane]
    f = float(np.hypot(knot.direction[first], knot.direction[second]))
    k = (knot.far_radius - knot.radius) / knot.length
    h = float(depth - knot.entry[out])
    start = h * float(knot.direction[out])
    curve = (
        1.0 - (1.0 + k * k) * f * f,
        f * ((1.0 + k * k) * start + knot.radius * k),
        (1.0 + k * k) * start**2 + 2.0 * knot.radius * k * start + knot.radius**2 - h * h,
    )
    lam, beta, gamma = curve
    size = gamma + beta**2 / lam if lam > 0.0 else np.inf
    closed = lam > 0.0 and size < lam * (LONGEST_CUT * knot.length) ** 2
    if closed:
        t = beta / lam
        if size <= 0.0 or knot.radius + k * (f * t + start) <= 0.0:
            return None
        a, b = float(np.sqrt(size / lam)), float(np.sqrt(size))
    else:
        found = _along_branch(curve, (-start / f, (knot.length - start) / f))
        if found is None:
            return None
        t, a, b = found
    along = (float(knot.direction[first]), float(knot.direction[second])) if f else (0.0, 0.0)
    x = float(knot.entry[first]) + t * (along[0] / f if f else 0.0)
    across = float(knot.entry[second]) + t * (along[1] / f if f else 0.0)
    if along[0] == 0.0:  # a shadow square across the limb, or none: a stays along x
        return KnotCut(x=x, across=across, a=b, b=a, angle=0.0, closed=closed)
    angle = float(np.arctan(along[1] / along[0]))
    return KnotCut(x=x, across=across, a=a, b=b, angle=angle, closed=closed)


def _along_branch(
    curve: tuple[float, float, float], ends: tuple[float, float]
) -> tuple[float, float, float] | None:
    """Return centre, length and width of the ellipse for a cut between the ends of a knot."""
    lam, beta, gamma = curve
    width2 = [gamma + 2.0 * beta * t - lam * t * t for t in ends]
    if min(width2) > 0.0:
        apart = abs(ends[1] - ends[0])
        return 0.5 * sum(ends), apart, float(np.sqrt(max(width2) / 0.75))
    wide = int(np.argmax(width2))
    if width2[wide] <= 0.0:
        return None
    roots = np.roots([-lam, 2.0 * beta, gamma])
    real = roots[np.isreal(roots)].real
    low, high = sorted(ends)
    point = float(real[np.argmin(np.maximum(low - real, real - high))])
    return ends[wide], abs(point - ends[wide]), float(np.sqrt(width2[wide]))
