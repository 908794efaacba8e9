"""Windows laid on a strip, as matrices that average sampled stress."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse

from limbfe.defect.grain_flow import fibre_angle, follow_fibres
from limbfe.defect.in_wood import free_run, is_wood, wood_across
from limbfe.defect.mesh import BRIDGE
from limbfe.defect.recovery import Samples
from limbfe.defect.strip import Ellipse, Strip, clearance, half_extent, rim
from limbfe.fem.mesh import Index
from limbfe.fem.spatial import cKDTree
from limbfe.frames import Array

CLEAR_SHARE = 0.95
"""Part of a window that must be wood for it to count in full."""
ACROSS = 0.5 * np.polynomial.legendre.leggauss(2)[0]
"""Places across a window along the fibre (Gauss), from its middle over its thickness: exact for
stress up to the cube of the distance."""
AT_ONCE = 100_000
"""Points of windows placed on the samples at a time: each takes twenty numbers on the way."""


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
    """Return the least width of wood: of the strip, or beside a solid, m.

    A bridge to the edge that the mesh takes for none is none.
    """
    t = np.linspace(0.0, 2.0 * np.pi, 241)
    rims = [rim(solid, t) for solid in ground.solids]
    gaps = [float((ground.strip.left - ground.strip.right).min())]
    for number, solid in enumerate(ground.solids):
        right_gap, _, left_gap, _ = clearance(ground.strip, solid)
        least = BRIDGE * half_extent(solid)[1]
        gaps += [gap for gap in (right_gap, left_gap) if gap > least]
        for other in rims[:number]:
            gaps.append(float(np.min(cKDTree(other).query(rims[number])[0])))
    return min(gaps)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Windows:
    """Where accepted windows lie.

    Attributes
    ----------
    centre : ndarray, shape (n, 2), m
    angle : ndarray, shape (n,), rad
        Fibre direction at the centre.
    length : ndarray, shape (n,), m
    source : ndarray of int, shape (n,)
        Which of the tried centres each window belongs to.
    """

    centre: Array
    angle: Array
    length: Array
    source: Index


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WindowOperator(Windows):
    """Averages over accepted windows as a matrix on sampled values.

    Attributes
    ----------
    average : sparse array, shape (n, w + e)
        Rows sum to one; columns are the points of the samples.
    counts : ndarray, shape (n,)
        How much of each is wood: 1 from `CLEAR_SHARE` on.
    """

    average: sparse.csr_array
    counts: Array


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
    along = np.stack([np.cos(angle), np.sin(angle)])
    across = np.stack([-along[1], along[0]])
    u = (length[:, None] * _midpoints(1.0, 10))[:, :, None]
    v = _midpoints(thickness, 3)
    points = (
        centres.T[:, :, None, None] + u * across[:, :, None, None] + v * along[:, :, None, None]
    ).reshape(2, len(centres), u.shape[1] * len(v))
    wood = is_wood(ground.strip, ground.solids, np.moveaxis(points, 0, -1)).astype(float)
    operator = _operator(samples, wood, points, centres, angle, length, whole=True)
    return replace(operator, source=tried[operator.source])


def _fit_across(ground: Ground, centres: Array, length: Array) -> tuple[Array, Array]:
    """Slide and shorten windows so that they lie in the wood through their centre."""
    angle = fibre_angle(centres, ground.flow, ground.far)
    across = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    ahead = free_run(ground.strip, ground.solids, centres, across, length)
    behind = free_run(ground.strip, ground.solids, centres, -across, length)
    fitted = np.minimum(length, ahead + behind)
    shift = np.where(
        ahead + behind <= length,
        0.5 * (ahead - behind),
        np.minimum(ahead - 0.5 * fitted, 0.0) + np.maximum(0.5 * fitted - behind, 0.0),
    )
    return centres + shift[:, None] * across, fitted


def along_windows(
    samples: Samples, ground: Ground, centres: Array, lengths: tuple[Array, ...], thickness: float
) -> list[WindowOperator]:
    """Return windows that follow the fibre through their centre, for splitting, by lengths.

    What of a window is no wood bears nothing: where that is more than a twentieth, it counts by
    what is left.  So a window leaves the wood by degrees as a rim or an edge moves,
    and none that lies mostly in wood is left out.  One whose middle would cut a rim or an edge is
    slid off it; where a bridge of wood is thinner than the window, that is as thin as the bridge,
    in a wedge it is not.

    Parameters
    ----------
    samples : Samples
    ground : Ground
    centres : ndarray, shape (n, 2), m
        Those off the wood are left out.
    lengths : tuple of ndarray, shape (n,), m
    thickness : float, m
    """
    tried = np.flatnonzero(is_wood(ground.strip, ground.solids, centres))
    centres, wide = _beside_rims(ground, centres[tried], thickness)
    angle = fibre_angle(centres, ground.flow, ground.far)
    laid = []
    for length in lengths:
        # At a knot's end stress falls by half within a thickness: half of one is near enough.
        steps = np.ceil(2.0 * length[tried].max(initial=0.0) / thickness)
        half = int(np.clip(steps, 6, 16))
        windows = centres, angle, length[tried], wide
        operator = _laid_along(samples, ground, windows, half)
        laid.append(replace(operator, source=tried[operator.source]))
    return laid


def _laid_along(
    samples: Samples, ground: Ground, windows: tuple[Array, Array, Array, Array], half: int
) -> WindowOperator:
    """Return windows along the fibre of given middles, fibre angles, lengths and thicknesses.

    By so many steps each way.
    """
    centres, angle, length, wide = windows
    line, heading = follow_fibres(
        centres, angle, 0.5 * length / half, half, ground.flow, ground.far
    )
    across = np.stack([-heading[1], heading[0]])
    # Rims run along with the line: cut to the wood by points, half a row at once would come and go.
    low, high = wood_across(ground.strip, ground.solids, line, across, 0.5 * wide)
    middle, span = 0.5 * (low + high), high - low
    aside = middle[..., None] + span[..., None] * ACROSS
    points = (line[..., None] + aside * across[..., None]).reshape(
        2, len(centres), len(ACROSS) * line.shape[2]
    )
    wood = np.repeat(span / wide[:, None], len(ACROSS), axis=1)
    return _operator(samples, wood, points, centres, angle, length, whole=False)


def _beside_rims(ground: Ground, centres: Array, thickness: float) -> tuple[Array, Array]:
    """Slide windows off rims and edges that their middle would cut; their thicknesses, (n,)."""
    wide = np.full(len(centres), thickness)
    angle = fibre_angle(centres, ground.flow, ground.far)
    aside = 0.5 * thickness * np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    beside = is_wood(ground.strip, ground.solids, np.stack([centres - aside, centres + aside]))
    cut = np.flatnonzero(~beside.all(axis=0))
    slid = centres.copy()
    slid[cut], room = _fit_across(ground, centres[cut], wide[cut])
    wide[cut] = np.maximum(room, min(thickness, 0.98 * narrowest_bridge(ground)))
    return slid, wide


def _midpoints(length: float, count: int) -> Array:
    return length * ((np.arange(count) + 0.5) / count - 0.5)


def _operator(
    samples: Samples,
    wood: Array,
    points: Array,
    centres: Array,
    angle: Array,
    length: Array,
    *,
    whole: bool,
) -> WindowOperator:
    """Windows as rows of bilinear interpolation weights.

    Parameters
    ----------
    wood : ndarray, shape (n, q)
        How much of what each point stands for is wood.
    points : ndarray, shape (2, n, q), m
        x and y of the points of every window; apart, since neighbours in memory are quicker.
    whole : bool
        Leave out those that do not count in full; else they count by their part of wood.
    """
    good = wood.mean(axis=1) >= (CLEAR_SHARE if whole else 0.0)
    points, wood = points[:, good], wood[good]
    _, n, q = points.shape
    columns, weights = np.empty((n, 4 * q), dtype=np.int32), np.empty((n, 4 * q))
    rows = max(AT_ONCE // q, 1)
    for start in range(0, n, rows):
        some = slice(start, start + rows)
        columns[some], weights[some] = _corners(samples, points[:, some], wood[some])
    total = weights.sum(axis=1)
    # What reaches off the sampled box counts as no wood.
    counts = total / (CLEAR_SHARE * q)
    taken = counts >= 1.0 if whole else total > 0.0
    kept = np.flatnonzero(good)[taken]
    if len(kept) < n:
        columns, weights, total = columns[taken], weights[taken], total[taken]
    weights /= total[:, None]
    # Entries of a row may share a column: sorting and adding them costs more than it saves.
    average = sparse.csr_array(
        (
            weights.ravel(),
            columns.ravel(),
            np.arange(0, weights.size + 1, 4 * q, dtype=np.int32),
        ),
        shape=(len(kept), len(samples.points)),
    )
    return WindowOperator(
        average=average,
        counts=np.minimum(counts[taken], 1.0),
        centre=centres[kept],
        angle=angle[kept],
        length=length[kept],
        source=kept,
    )


def _corners(samples: Samples, points: Array, wood: Array) -> tuple[Index, Array]:
    """Return the four samples round each point, and what of each it takes, shape (n, 4 q)."""
    _, n, q = points.shape
    nx, ny = samples.grid.shape
    place = (points - samples.grid.origin[:, None, None]) / samples.grid.step
    base = np.floor(place).astype(np.intp)
    (i, j), (u, v) = base, place - base
    inner = (wood > 0.0) & (i >= 0) & (j >= 0) & (i < nx) & (j < ny)
    corner = np.where(inner, i * (ny + 1) + j, 0)
    wood = np.where(inner, wood, 0.0)
    near, far = wood * (1.0 - u), wood * u
    columns, weights = np.empty((n, 4 * q), dtype=np.int32), np.empty((n, 4 * q))
    corners = ((0, near, 1.0 - v), (1, near, v), (ny + 1, far, 1.0 - v), (ny + 2, far, v))
    for k, (shift, along, across) in enumerate(corners):
        part = slice(k * q, (k + 1) * q)
        columns[:, part] = np.take(samples.number, corner + shift, mode="clip")
        np.multiply(along, across, out=weights[:, part])
    off = columns < 0
    weights[off], columns[off] = 0.0, 0
    return columns, weights
