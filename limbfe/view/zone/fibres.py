"""The lines of the fibres on a close-up, and the stretch of the limb that it shows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array

if TYPE_CHECKING:
    from limbfe.analysis.zones.close_up import CloseUp, Panel

FIBRES = 27
"""Fibre lines drawn across the strip."""
REACH = 3.2
"""Half the length shown, in half lengths of the zone."""


def shown_span(view: CloseUp) -> tuple[float, float]:
    """Return the stretch of the limb that is shown: a few lengths of the zone, within the strip."""
    loops = np.concatenate([panel.zones[0].loop for panel in view.panels])
    middle, half = loops[:, 0].mean(), 0.5 * np.ptp(loops[:, 0])
    widest = max(
        float(np.interp(middle, one.edge_x, one.right_edge - one.left_edge)) for one in view.panels
    )
    reach = max(REACH * half, 1.4 * widest)
    low = max(max(float(one.edge_x[0]), float(one.points[:, 0].min())) for one in view.panels)
    high = min(min(float(one.edge_x[-1]), float(one.points[:, 0].max())) for one in view.panels)
    return max(low, float(middle - reach)), min(high, float(middle + reach))


def trace_fibres(panel: Panel, low: float, high: float, *, steps: int = 400) -> Array:
    """Return lines that follow the grain, evenly spaced where they enter at the lower end.

    Parameters
    ----------
    panel : Panel
    low, high : float, m
        Stretch along the limb.
    steps : int
        Steps of the midpoint rule along x.

    Returns
    -------
    ndarray, shape (FIBRES, steps + 1, 2), m
        nan where a line has left the limb or met a knot or a hole.
    """
    slope = _slope_grid(panel, low, high)
    x = np.linspace(low, high, steps + 1)
    half = 0.5 * (x[1] - x[0])
    start = np.interp(low, panel.edge_x, panel.left_edge)
    end = np.interp(low, panel.edge_x, panel.right_edge)
    margin = (end - start) / (2 * FIBRES)
    y = np.linspace(start + margin, end - margin, FIBRES)
    lines = np.empty((FIBRES, steps + 1, 2))
    lines[:, :, 0] = x
    lines[:, 0, 1] = y
    for k in range(steps):
        first = slope(np.stack([np.full(FIBRES, x[k]), y], axis=-1))
        middle = np.stack([np.full(FIBRES, x[k] + half), y + half * first], axis=-1)
        y = y + 2.0 * half * slope(middle)
        outside = y > np.interp(x[k + 1], panel.edge_x, panel.right_edge)
        outside |= y < np.interp(x[k + 1], panel.edge_x, panel.left_edge)
        y = np.where(outside, np.nan, y)
        lines[:, k + 1, 1] = y
    return lines


def _slope_grid(panel: Panel, low: float, high: float) -> Any:
    """Return the fibres' slope as a function of points, interpolated on a regular grid."""
    from matplotlib.tri import LinearTriInterpolator, Triangulation
    from scipy.interpolate import RegularGridInterpolator as Grid
    from scipy.ndimage import distance_transform_edt

    x = np.linspace(low, high, 221)
    y = np.linspace(panel.left_edge.min(), panel.right_edge.max(), 91)
    grid = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1)
    known = np.isfinite(panel.fibre_angle)
    mesh = Triangulation(panel.points[:, 0], panel.points[:, 1], panel.triangles)
    mesh.set_mask(~known[panel.triangles].all(axis=1))
    slope = np.where(known, np.tan(panel.fibre_angle), 0.0)
    found = LinearTriInterpolator(mesh, slope)(grid[..., 0], grid[..., 1])
    # Beyond the edges and in holes: as at the nearest place where there is wood.
    unknown: Any = found.mask
    spacing = [float(x[1] - x[0]), float(y[1] - y[0])]
    _, nearest = distance_transform_edt(unknown, sampling=spacing, return_indices=True)
    values = found.filled(0.0)[tuple(nearest)]
    for zone in panel.zones:
        if zone.hole or (zone.kind == "knot" and not zone.beyond):
            values[_within(zone.loop, grid)] = np.nan
    return Grid((x, y), values, bounds_error=False, fill_value=np.nan)


def _within(loop: Array, points: Array) -> NDArray[np.bool_]:
    from matplotlib.path import Path as Polygon

    flat = Polygon(loop).contains_points(points.reshape(-1, 2))
    inside: NDArray[np.bool_] = flat.reshape(points.shape[:-1])
    return inside
