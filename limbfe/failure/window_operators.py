"""Windows laid on a strip, as matrices that average sampled stress."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse
from scipy.spatial import cKDTree

from limbfe.defect.grain_flow import fibre_angle
from limbfe.defect.recovery import Samples
from limbfe.defect.strip import Ellipse, Strip, clearance, is_wood, rim
from limbfe.fem.mesh import Index
from limbfe.frames import Array

CLEAR_SHARE = 0.95
"""Least part of a window that must be wood."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """Where windows may lie and how the fibre runs there.

    Attributes
    ----------
    strip : Strip
    solids : tuple of Ellipse
        Knots and holes inside the strip; windows keep off them.
    flow : tuple of Ellipse
        Obstacles of the fibre flow.
    far : float, rad
        Fibre angle far away.
    """

    strip: Strip
    solids: tuple[Ellipse, ...]
    flow: tuple[Ellipse, ...]
    far: float


def narrowest_bridge(ground: Ground) -> float:
    """Return the least width of wood: of the strip, or beside a solid, m."""
    t = np.linspace(0.0, 2.0 * np.pi, 241)
    rims = [rim(solid, t) for solid in ground.solids]
    gaps = [float((ground.strip.left - ground.strip.right).min())]
    for number, solid in enumerate(ground.solids):
        right_gap, _, left_gap, _ = clearance(ground.strip, solid)
        gaps += [gap for gap in (right_gap, left_gap) if gap > 0.0]
        for other in rims[:number]:
            gaps.append(float(np.min(cKDTree(other).query(rims[number])[0])))
    return min(gaps)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WindowOperator:
    """Averages over accepted windows as a matrix on sampled values.

    Attributes
    ----------
    average : sparse array, shape (n, w)
        Rows sum to one; columns are the wood points of the samples.
    centre : ndarray, shape (n, 2), m
    angle : ndarray, shape (n,), rad
        Fibre direction at the centre.
    length : ndarray, shape (n,), m
    source : ndarray of int, shape (n,)
        Which of the tried centres each window belongs to.
    """

    average: sparse.csr_array
    centre: Array
    angle: Array
    length: Array
    source: Index


def across_windows(
    samples: Samples, ground: Ground, centres: Array, length: Array, thickness: float
) -> WindowOperator:
    """Return straight windows across the fibre, for fibre rupture.

    A window that would leave the wood is slid along its own line until it lies inside; where
    the wood left beside a knot is narrower than the window, the window is as long as that wood
    is wide, and its average the stress of the net section.  Where a knot cuts the edge the wood
    runs out in a wedge, which is no bridge: windows shortened to less than half there are left
    out.

    Parameters
    ----------
    samples : Samples
    ground : Ground
    centres : ndarray, shape (n, 2), m
    length : ndarray, shape (n,), m
    thickness : float, m
    """
    wanted = length
    centres, length = _fit_across(ground, centres, wanted)
    tried = np.flatnonzero(length >= np.minimum(0.5 * wanted, 0.98 * narrowest_bridge(ground)))
    centres, length = centres[tried], length[tried]
    angle = fibre_angle(centres, ground.flow, ground.far)
    along = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    u = length[:, None] * _midpoints(1.0, 10)
    v = _midpoints(thickness, 3)
    points = (
        centres[:, None, None, :]
        + u[:, :, None, None] * across[:, None, None, :]
        + v[None, None, :, None] * along[:, None, None, :]
    )
    operator = _operator(
        samples,
        ground,
        points.reshape(len(centres), u.shape[1] * len(v), 2),
        centres,
        angle,
        length,
    )
    return replace(operator, source=tried[operator.source])


def _fit_across(ground: Ground, centres: Array, length: Array) -> tuple[Array, Array]:
    """Slide and shorten windows so that they lie in the wood through their centre."""
    angle = fibre_angle(centres, ground.flow, ground.far)
    across = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    ahead = _free_run(ground, centres, across, length)
    behind = _free_run(ground, centres, -across, length)
    fitted = np.minimum(length, ahead + behind)
    shift = np.where(
        ahead + behind <= length,
        0.5 * (ahead - behind),
        np.minimum(ahead - 0.5 * fitted, 0.0) + np.maximum(0.5 * fitted - behind, 0.0),
    )
    return centres + shift[:, None] * across, fitted


def _free_run(ground: Ground, start: Array, way: Array, length: Array) -> Array:
    """How far the wood reaches unbroken from points along unit vectors, at most `length`."""
    steps, halvings = 24, 8
    pace = length / steps
    reach = pace[:, None] * np.arange(1, steps + 1)
    clear = is_wood(ground.strip, ground.solids, start[:, None] + reach[..., None] * way[:, None])
    sure: Array = pace * np.cumprod(clear, axis=1).sum(axis=1)
    blocked = sure < length - 0.5 * pace
    gap = np.where(blocked, pace, 0.0)
    for _ in range(halvings):
        gap = 0.5 * gap
        ahead = start + (sure + gap)[:, None] * way
        sure = np.where(is_wood(ground.strip, ground.solids, ahead), sure + gap, sure)
    return sure


def along_windows(
    samples: Samples, ground: Ground, centres: Array, length: Array, thickness: float
) -> WindowOperator:
    """Return windows that follow the fibre through their centre, for splitting.

    Parameters
    ----------
    samples : Samples
    ground : Ground
    centres : ndarray, shape (n, 2), m
    length : ndarray, shape (n,), m
    thickness : float, m
    """
    angle = fibre_angle(centres, ground.flow, ground.far)
    half = int(np.clip(np.ceil(length.max(initial=0.0) / thickness), 5, 16))
    line, heading = _trace(ground, centres, angle, 0.5 * length / half, half)
    v = _midpoints(thickness, 3)
    across = np.stack([-heading[..., 1], heading[..., 0]], axis=-1)
    points = line[:, :, None, :] + v[None, None, :, None] * across[:, :, None, :]
    return _operator(
        samples, ground, points.reshape(len(centres), 6 * half, 2), centres, angle, length
    )


def _midpoints(length: float, count: int) -> Array:
    return length * ((np.arange(count) + 0.5) / count - 0.5)


def _trace(
    ground: Ground, centres: Array, angle: Array, step: Array, half: int
) -> tuple[Array, Array]:
    """Points in the middle of each step along the fibre both ways, and the fibre there."""
    n = len(centres)
    sign = np.array([1.0, -1.0])
    pace = step[:, None, None]
    at = np.repeat(centres[:, None, :], 2, axis=1)
    heading = np.stack([np.cos(angle), np.sin(angle)], axis=1)[:, None, :] * sign[None, :, None]
    middle = np.empty((n, 2, half, 2))
    direction = np.empty((n, 2, half, 2))
    for k in range(half):
        ahead = at + 0.5 * pace * heading
        turned = fibre_angle(ahead, ground.flow, ground.far)
        fresh = np.stack([np.cos(turned), np.sin(turned)], axis=-1)
        # A fibre has no sense: keep the one we came with.
        fresh *= np.where((fresh * heading).sum(axis=-1) < 0.0, -1.0, 1.0)[..., None]
        middle[:, :, k], direction[:, :, k] = ahead, fresh * sign[None, :, None]
        at = at + pace * fresh
        heading = fresh
    return middle.reshape(n, 2 * half, 2), direction.reshape(n, 2 * half, 2)


def _operator(
    samples: Samples, ground: Ground, points: Array, centres: Array, angle: Array, length: Array
) -> WindowOperator:
    """Windows as rows of bilinear interpolation weights, those with too little wood left out."""
    clear = is_wood(ground.strip, ground.solids, points)
    good = clear.mean(axis=1) >= CLEAR_SHARE
    points, clear = points[good], clear[good]
    n, q, _ = points.shape
    nx, ny = samples.grid.shape
    place = (points - samples.grid.origin) / samples.grid.step
    base = np.floor(place).astype(np.intp)
    part = place - base
    inner = clear & (base >= 0).all(axis=2) & (base < (nx, ny)).all(axis=2)
    corner = np.where(inner, base[..., 0] * (ny + 1) + base[..., 1], 0)
    shifts = np.array([0, 1, ny + 1, ny + 2])
    columns = samples.number[corner[..., None] + shifts]
    u, v = part[..., 0], part[..., 1]
    weights = np.stack([(1 - u) * (1 - v), (1 - u) * v, u * (1 - v), u * v], axis=-1)
    use = inner[..., None] & (columns >= 0)
    weights = np.where(use, weights, 0.0).reshape(n, 4 * q)
    total = weights.sum(axis=1)
    # A window that reaches off the sampled box is dropped: its average would be of a part.
    whole = total > (CLEAR_SHARE - 0.1) * q
    kept = np.flatnonzero(good)[whole]
    columns = np.where(use, columns, 0).reshape(n, 4 * q)[whole]
    data = weights[whole] / total[whole, None]
    # Entries of a row may share a column: sorting and adding them costs more than it saves.
    average = sparse.csr_array(
        (data.ravel(), columns.ravel(), np.arange(0, data.size + 1, 4 * q, dtype=np.int32)),
        shape=(len(kept), len(samples.points)),
    )
    return WindowOperator(
        average=average,
        centre=centres[kept],
        angle=angle[kept],
        length=length[kept],
        source=kept,
    )
