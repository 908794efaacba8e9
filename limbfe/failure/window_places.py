"""Where windows are tried."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from limbfe.defect.in_wood import is_wood
from limbfe.defect.strip import Ellipse, Strip, edge, rim
from limbfe.fem.spatial import cKDTree
from limbfe.frames import Array


def window_centres(
    strip: Strip,
    solids: tuple[Ellipse, ...],
    focus: Ellipse,
    *,
    reach: float,
    clear: float,
    spread: float,
    spacing: float,
    around: int = 120,
) -> tuple[Array, NDArray[np.bool_]]:
    """Return places to try windows at: rings round zones, lines along edges, a regular grid.

    And the middles of bridges so thin that no ring or line runs through them.

    Parameters
    ----------
    solids : tuple of Ellipse
        Knots and holes.
    focus : Ellipse
        The zone that is judged.
    reach : float, m
        Half length of the stretch of limb that is searched.
    clear : float, m
        Least distance of a centre from a rim or edge.
    spread : float, m
        Scale of the distances of further rings.
    spacing : float, m
        Of the regular grid.
    around : int
        Places on every ring.

    Returns
    -------
    centres : ndarray, shape (n, 2), m
    regular : ndarray of bool, shape (n,)
    """
    low, high = max(focus.x - reach, strip.x[0]), min(focus.x + reach, strip.x[-1])
    sets: list[Array] = []
    t = np.linspace(0.0, 2.0 * np.pi, around, endpoint=False)
    for solid in solids:
        for further in (0.0, 0.1, 0.25, 0.5, 1.0, 1.75):
            grown = clear + further * spread
            sets.append(_offset_rim(solid, t, grown))
    sets += _bridge_middles(strip, [rim(solid, t) for solid in solids], clear)
    x = np.linspace(low, high, max(int(np.ceil((high - low) / spacing)), 2))
    for side, way in (("right", 1.0), ("left", -1.0)):
        level = edge(strip, side, x)
        for further in (0.0, 0.25, 0.75):
            sets.append(np.stack([x, level + way * (clear + further * spread)], axis=1))
    bottom, top = float(strip.right.min()), float(strip.left.max())
    rows = max(int(np.floor(round((top - bottom) / spacing, 6))), 1)
    y = 0.5 * (bottom + top) + spacing * (np.arange(rows) - 0.5 * (rows - 1))
    mesh = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    irregular = np.vstack(sets)
    centres = np.vstack([irregular, mesh])
    regular = np.arange(len(centres)) >= len(irregular)
    keep = is_wood(strip, solids, centres) & (centres[:, 0] >= low) & (centres[:, 0] <= high)
    return centres[keep], regular[keep]


def _bridge_middles(strip: Strip, rims: list[Array], thin: float) -> list[Array]:
    """Middles of the wood thinner than `thin` between rims and edges, and between rims."""
    sets: list[Array] = []
    for number, points in enumerate(rims):
        x = np.clip(points[:, 0], strip.x[0], strip.x[-1])
        for side in ("right", "left"):
            over = edge(strip, side, x) - points[:, 1]
            near = np.abs(over) < thin
            sets.append(points[near] + np.outer(over[near], [0.0, 0.5]))
        for other in rims[:number]:
            away, nearest = cKDTree(other).query(points)
            near = away < thin
            sets.append(0.5 * (points[near] + other[nearest[near]]))
    return sets


def _offset_rim(ellipse: Ellipse, t: Array, distance: float) -> Array:
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    normal = np.stack([np.cos(t) / ellipse.a, np.sin(t) / ellipse.b], axis=1)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    point = np.stack([ellipse.a * np.cos(t), ellipse.b * np.sin(t)], axis=1) + distance * normal
    turned: Array = point @ np.array([[c, s], [-s, c]]) + np.array([ellipse.x, ellipse.y])
    return turned
