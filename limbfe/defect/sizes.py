"""Wanted element size over a strip: small at the zones, growing steadily away from them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.defect.strip import Ellipse, Strip, edge, rim
from limbfe.fem.spatial import cKDTree
from limbfe.frames import Array

_RIM_SAMPLES = 240
_EDGE_SAMPLES = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Fineness:
    """How fine the mesh of a strip is.

    Attributes
    ----------
    near : float, m
        Side length at the rim of a zone; a quarter of the shortest window or less.
    growth : float
        Increase of the side length per length away from the zone.
    across : float
        Elements across the strip far from any zone.
    around : float
        Least number of elements round a zone, for zones smaller than the window.
    smoothing : int
        Rounds that even out the triangles.
    """

    near: float
    growth: float = 0.3
    across: float = 6.0
    around: float = 28.0
    smoothing: int = 5


class SizeField:
    """Wanted side length as a function of place; call with points of shape (p, 2)."""

    def __init__(self, points: Array, sizes: Array, growth: float) -> None:
        x, y = points.T
        apart = np.sqrt((x[:, None] - x) ** 2 + (y[:, None] - y) ** 2)
        self._sizes: Array = (sizes[None, :] + growth * apart).min(axis=1)
        self._growth = growth
        self._tree = cKDTree(points)

    def __call__(self, points: Array) -> Array:
        """Return the wanted side length, shape (p,), m."""
        distance, which = self._tree.query(points, k=4)
        reach: Array = (self._sizes[which] + self._growth * distance).min(axis=1)
        return reach


def size_field(
    strip: Strip,
    ellipses: tuple[Ellipse, ...],
    fineness: Fineness,
    unfitted: tuple[tuple[Ellipse, float], ...] = (),
) -> SizeField:
    """Return the size field of a strip with zones.

    Near a zone the side is `near`, less where the rim is strongly curved, where the zone is
    small, and where the wood between it and the next edge or zone is narrow.  Zones without a
    rim in the mesh come with their own side length and leave no narrow wood.
    """
    x = np.linspace(strip.x[0], strip.x[-1], _EDGE_SAMPLES)
    right, left = edge(strip, "right", x), edge(strip, "left", x)
    edges = np.vstack([np.stack([x, right], axis=1), np.stack([x, left], axis=1)])
    coarse = np.tile((left - right) / fineness.across, 2)
    points, sizes = [edges[::4]], [coarse[::4]]
    rims = [rim(e, _even(e)) for e in ellipses]
    for number, ellipse in enumerate(ellipses):
        others = np.vstack([edges, *(r for k, r in enumerate(rims) if k != number)])
        gap = cKDTree(others).query(rims[number])[0]
        length = np.linalg.norm(np.diff(rims[number], axis=0, append=rims[number][:1]), axis=1)
        base = min(fineness.near, length.sum() / fineness.around)
        side = np.minimum(base, 0.7 * _curvature_radius(ellipse))
        points.append(rims[number])
        sizes.append(np.minimum(side, np.maximum(gap / 1.5, side / 3.0)))
    for ellipse, side_there in unfitted:
        points.append(rim(ellipse, _even(ellipse)))
        sizes.append(np.full(_RIM_SAMPLES, side_there))
    return SizeField(np.vstack(points), np.concatenate(sizes), fineness.growth)


def _even(ellipse: Ellipse) -> Array:
    """Eccentric angles that divide the rim evenly."""
    t = np.linspace(0.0, 2.0 * np.pi, 8 * _RIM_SAMPLES + 1)
    speed = np.hypot(ellipse.a * np.sin(t), ellipse.b * np.cos(t))
    length = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]))])
    return np.interp(np.linspace(0.0, length[-1], _RIM_SAMPLES, endpoint=False), length, t)


def _curvature_radius(ellipse: Ellipse) -> Array:
    t = _even(ellipse)
    a, b = ellipse.a, ellipse.b
    radius: Array = np.hypot(a * np.sin(t), b * np.cos(t)) ** 3 / (a * b)
    return radius
