"""The limb strip at one depth and the ellipses a knot or a rotten patch leaves on it.

A strip is a thin slice of the limb parallel to a face.  Its axes are x along the limb and y
across it.  For a zone that shows on a side face the same objects serve with y along z.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from limbfe.curves import Curve, monotone_cubic
from limbfe.errors import GeometryError
from limbfe.frames import Array, read_only


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strip:
    """Outline of a slice of the limb.

    Attributes
    ----------
    x : ndarray, shape (n,), m
        Increasing; the strip reaches from the first to the last.
    right, left : ndarray, shape (n,), m
        Edge at smaller and at larger y.

    Raises
    ------
    GeometryError
        If x does not increase or the edges meet or cross.
    """

    x: Array
    right: Array
    left: Array

    def __post_init__(self) -> None:
        for name in ("x", "right", "left"):
            object.__setattr__(self, name, read_only(getattr(self, name)))
        if self.x.ndim != 1 or len(self.x) < 2 or not np.all(np.diff(self.x) > 0.0):
            raise GeometryError(
                "strip: x must be at least two increasing positions; sort the stations"
            )
        if self.right.shape != self.x.shape or self.left.shape != self.x.shape:
            raise GeometryError(
                f"strip: {len(self.x)} positions but {self.right.size} right and"
                f" {self.left.size} left edge values; give one of each per position"
            )
        width = self.left - self.right
        if not np.all(width > 0.0):
            worst = int(np.argmin(width))
            raise GeometryError(
                f"strip: the edges meet at x = {self.x[worst]:.4g} m (width {width[worst]:.3g} m);"
                " shorten the strip or take a depth inside the limb"
            )


def edge(strip: Strip, side: str, x: Array, slope: bool = False) -> Array:
    """Return y of the "left" or "right" edge, or its slope, at x.

    Between the given positions the edge is a monotone cubic without overshoot, so a straight
    edge stays straight.
    """
    values = strip.left if side == "left" else strip.right
    if len(strip.x) == 2:
        rise = (values[1] - values[0]) / (strip.x[1] - strip.x[0])
        return np.full_like(x, rise) if slope else values[0] + rise * (x - strip.x[0])
    return _edge_curve(strip, side)(x, 1 if slope else 0)


@lru_cache(maxsize=64)
def _edge_curve(strip: Strip, side: str) -> Curve:
    return monotone_cubic(strip.x, strip.left if side == "left" else strip.right)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ellipse:
    """Trace of a zone on a strip.

    Attributes
    ----------
    x, y : float, m
        Centre.
    a, b : float, m
        Semi-axes, a along the axis turned by `angle` from x.
    angle : float, rad

    Raises
    ------
    GeometryError
        If a semi-axis is not positive.
    """

    x: float
    y: float
    a: float
    b: float
    angle: float = 0.0

    def __post_init__(self) -> None:
        values = (self.x, self.y, self.a, self.b, self.angle)
        if not all(np.isfinite(values)) or self.a <= 0.0 or self.b <= 0.0:
            raise GeometryError(
                f"ellipse at x = {self.x:.4g} m: semi-axes {self.a:.3g} and {self.b:.3g} m must"
                " be positive; leave the zone out where it has no size"
            )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ellipses:
    """One ellipse for every point: traces of a zone at the depths of points.

    Attributes
    ----------
    x, y, a, b, angle : ndarray
        As of an `Ellipse`; of a shape that broadcasts against the points'.
    """

    x: Array
    y: Array
    a: Array
    b: Array
    angle: Array


def local(ellipse: Ellipse | Ellipses, points: Array) -> Array:
    """Return points, shape (..., 2), in the axes of an ellipse."""
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    dx, dy = points[..., 0] - ellipse.x, points[..., 1] - ellipse.y
    return np.stack([c * dx + s * dy, -s * dx + c * dy], axis=-1)


def elliptic_radius(ellipse: Ellipse | Ellipses, points: Array) -> Array:
    """Return 1 on the ellipse, less inside, more outside; scale of the ellipse through a point."""
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    dx, dy = points[..., 0] - ellipse.x, points[..., 1] - ellipse.y
    u, v = (c / ellipse.a) * dx + (s / ellipse.a) * dy, (c / ellipse.b) * dy - (s / ellipse.b) * dx
    radius: Array = np.sqrt(u * u + v * v)
    return radius


def rim(ellipse: Ellipse, t: Array) -> Array:
    """Return the points of an ellipse at eccentric angles t, shape (..., 2)."""
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    u, v = ellipse.a * np.cos(t), ellipse.b * np.sin(t)
    return np.stack([ellipse.x + c * u - s * v, ellipse.y + s * u + c * v], axis=-1)


def half_extent(ellipse: Ellipse) -> tuple[float, float]:
    """Return half the length along x and half the width along y of an ellipse."""
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    return (
        float(np.hypot(ellipse.a * c, ellipse.b * s)),
        float(np.hypot(ellipse.a * s, ellipse.b * c)),
    )


def clearance(strip: Strip, ellipse: Ellipse) -> tuple[float, float, float, float]:
    """Return how far an ellipse reaches towards the edges.

    Returns
    -------
    right_gap, right_depth, left_gap, left_depth : float, m
        Smallest and largest distance along y by which the rim lies inside each edge; a gap
        below zero means that the ellipse crosses the edge, a depth below zero that it lies
        outside it altogether.
    """
    points = rim(ellipse, np.linspace(0.0, 2.0 * np.pi, 721))
    x = np.clip(points[:, 0], strip.x[0], strip.x[-1])
    right = points[:, 1] - edge(strip, "right", x)
    left = edge(strip, "left", x) - points[:, 1]
    return float(right.min()), float(right.max()), float(left.min()), float(left.max())
