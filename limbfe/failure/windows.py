"""Windows over which stress is averaged before it is compared with a strength.

A peak stress at a knot grows as the mesh is refined and says nothing about strength.  Averaged
over a length that toughness and strength fix together, stress gives the load at which a crack
of finite length becomes both strong enough to form and energetic enough to open.

References
----------
J. M. Whitney, R. J. Nuismer, Stress fracture criteria for laminated composites containing stress
concentrations, Journal of Composite Materials 8 (1974), 253-265: average stress criterion.
R. Landelius, Mean stress length: finite area failure criterion, Lund Institute of Technology,
Report TVSM-5043 (1989): length from fracture energy (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from limbfe.defect.grain_flow import fibre_angle
from limbfe.defect.plane import PlaneWood, crack_moduli
from limbfe.defect.recovery import Samples
from limbfe.defect.strip import Ellipse, Strip, edge, elliptic_radius
from limbfe.errors import MaterialError
from limbfe.fem.mesh import Index
from limbfe.frames import Array

CLEAR_SHARE = 0.95
"""Least part of a window that must be wood."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaneStrength:
    """Strength of the wood of a strip; Pa and J/m2.

    Attributes
    ----------
    tension, compression : float
        Along the grain.
    shear : float
        Along the grain.
    tension_across : float
    toughness_fibre, toughness_opening, toughness_sliding : float
        Energy to break fibres, to open and to slide a split along the grain.

    Raises
    ------
    MaterialError
        If a value is not positive.
    """

    tension: float
    compression: float
    shear: float
    tension_across: float
    toughness_fibre: float
    toughness_opening: float
    toughness_sliding: float

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            if not (np.isfinite(value) and value > 0.0):
                raise MaterialError(f"strip wood: {name} = {value!r} must be positive")


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowLengths:
    """Window sizes; m.

    Attributes
    ----------
    fibre : float
        Across the fibre, for rupture of fibres.
    opening, sliding : float
        Along the fibre, for the two ways of splitting.
    thickness : float
        The other side of every window.
    """

    fibre: float
    opening: float
    sliding: float
    thickness: float = 1e-3


def window_lengths(wood: PlaneWood, strength: PlaneStrength) -> WindowLengths:
    """Return the window lengths of a wood, ``2/pi E Gc / f^2`` for each mode.

    Parameters
    ----------
    wood : PlaneWood
    strength : PlaneStrength
    """
    E_I, E_II = crack_moduli(wood)

    def length(E: float, toughness: float, limit: float) -> float:
        return 2.0 / np.pi * E * toughness / limit**2

    return WindowLengths(
        fibre=length(E_II, strength.toughness_fibre, strength.tension),
        opening=length(E_I, strength.toughness_opening, strength.tension_across),
        sliding=length(E_II, strength.toughness_sliding, strength.shear),
    )


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
    is wide, and its average the stress of the net section.

    Parameters
    ----------
    samples : Samples
    ground : Ground
    centres : ndarray, shape (n, 2), m
    length : ndarray, shape (n,), m
    thickness : float, m
    """
    centres, length = _fit_across(ground, centres, length)
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
    return _operator(samples, ground, points.reshape(len(centres), -1, 2), centres, angle, length)


def _fit_across(ground: Ground, centres: Array, length: Array) -> tuple[Array, Array]:
    """Slide and shorten windows so that they lie in the wood through their centre."""
    angle = fibre_angle(centres, ground.flow, ground.far)
    across = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    steps = 40
    reach = np.arange(1, steps + 1) / steps
    free = []
    for way in (1.0, -1.0):
        ray = centres[:, None, :] + way * (length[:, None] * reach)[:, :, None] * across[:, None, :]
        clear = is_wood(ground.strip, ground.solids, ray)
        # Length of the unbroken run of wood from the centre.
        free.append(length * np.cumprod(clear, axis=1).sum(axis=1) / steps)
    ahead, behind = free
    fitted = np.minimum(length, ahead + behind)
    shift = np.where(
        ahead + behind <= length,
        0.5 * (ahead - behind),
        np.minimum(ahead - 0.5 * fitted, 0.0) + np.maximum(0.5 * fitted - behind, 0.0),
    )
    return centres + shift[:, None] * across, fitted


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
    return _operator(samples, ground, points.reshape(len(centres), -1, 2), centres, angle, length)


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
    return middle.reshape(n, -1, 2), direction.reshape(n, -1, 2)


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
    column_of = np.full((nx + 1) * (ny + 1), -1, dtype=np.intp)
    i, j = np.divmod(np.flatnonzero(samples.wood), ny)
    column_of[i * (ny + 1) + j] = np.arange(len(samples.points))
    inner = clear & (base >= 0).all(axis=2) & (base < (nx, ny)).all(axis=2)
    corner = np.where(inner, base[..., 0] * (ny + 1) + base[..., 1], 0)
    shifts = np.array([0, 1, ny + 1, ny + 2])
    columns = column_of[corner[..., None] + shifts]
    u, v = part[..., 0], part[..., 1]
    weights = np.stack([(1 - u) * (1 - v), (1 - u) * v, u * (1 - v), u * v], axis=-1)
    use = inner[..., None] & (columns >= 0)
    rows = np.repeat(np.arange(n), 4 * q).reshape(use.shape)
    matrix = sparse.coo_array(
        (weights[use], (rows[use], columns[use])), shape=(n, len(samples.points))
    ).tocsr()
    total = matrix.sum(axis=1)
    # A window that reaches off the sampled box is dropped: its average would be of a part.
    whole = total > (CLEAR_SHARE - 0.1) * q
    kept = np.flatnonzero(good)[whole]
    average = sparse.csr_array(matrix[whole])
    average.data /= np.repeat(total[whole], np.diff(average.indptr))
    return WindowOperator(
        average=average,
        centre=centres[kept],
        angle=angle[kept],
        length=length[kept],
        source=kept,
    )


def is_wood(strip: Strip, solids: tuple[Ellipse, ...], points: Array) -> NDArray[np.bool_]:
    """Return which points, shape (..., 2), lie in the strip and off its knots and holes."""
    x, y = points[..., 0], points[..., 1]
    wood: NDArray[np.bool_] = (x > strip.x[0]) & (x < strip.x[-1])
    within = np.clip(x, strip.x[0], strip.x[-1])
    wood &= (y > edge(strip, "right", within)) & (y < edge(strip, "left", within))
    for solid in solids:
        wood &= elliptic_radius(solid, points) > 1.0
    return wood
