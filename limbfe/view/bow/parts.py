"""The solids of a picture in section coordinates: knots, patches, whole-length skin, string.

Everything here is arrays, so that it can be checked without drawing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array, read_only
from limbfe.stave.knot import Knot, radius_at

if TYPE_CHECKING:
    from limbfe.analysis.results.skin import Indices
    from limbfe.analysis.wood.stress import SurfaceField
    from limbfe.stave.decay import Decay

PROUD = 4e-4
"""How far a knot or patch stands out of the skin (m), so that its face is seen, not hidden."""

_AROUND = 24
_ALONG = 16
_CAP = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solid:
    """A closed body in section coordinates.

    Attributes
    ----------
    name : str
    points : ndarray, shape (p, 3), m
        Station x along the bow, y, z.
    quads : ndarray, shape (q, 4)
    """

    name: str
    points: Array
    quads: Indices


def reach_tips(surface: SurfaceField, lower: float, upper: float) -> SurfaceField:
    """Return the surface carried on to the tips; the computed stations end a little before.

    Parameters
    ----------
    surface : SurfaceField
    lower, upper : float
        Stations of the tips (m).
    """
    ends = np.array([lower, upper])
    if surface.x[0] <= lower and surface.x[-1] >= upper:
        return surface
    ends = np.array([min(lower, surface.x[0] - 1e-9), max(upper, surface.x[-1] + 1e-9)])
    inner = surface.x[[1, -2]] - surface.x[[0, -1]]
    share = np.minimum(np.abs((surface.x[[0, -1]] - ends) / inner), 1.0)[:, None, None]
    ring = surface.ring[[0, -1]] + share * (surface.ring[[0, -1]] - surface.ring[[1, -2]])

    def padded(values: Array) -> Array:
        return read_only(np.concatenate([values[:1], values, values[-1:]]))

    return replace(
        surface,
        x=read_only(np.concatenate([ends[:1], surface.x, ends[1:]])),
        ring=read_only(np.concatenate([ring[:1], surface.ring, ring[1:]])),
        layer=padded(surface.layer),
        axial_strain=padded(surface.axial_strain),
        axial_stress=padded(surface.axial_stress),
        strength_used=padded(surface.strength_used),
    )


def outline_at(surface: SurfaceField, x: Any) -> Array:
    """Return outlines between the stations, shape (p, b, 2), by straight interpolation."""
    return _blend(surface, x, surface.ring)


def clip_to_skin(surface: SurfaceField, points: Array, proud: float = 0.0) -> Array:
    """Return points moved onto the skin where they lie outside it.

    Parameters
    ----------
    surface : SurfaceField
    points : ndarray, shape (p, 3), m
        Station x, y, z.
    proud : float
        Distance (m) by which the skin is thought to be larger.

    Returns
    -------
    ndarray, shape (p, 3)
        y brought between the edges, then z between belly and back at that y.
    """
    outline = outline_at(surface, points[:, 0])
    low, high = outline.min(axis=1), outline.max(axis=1)
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    grown = middle[:, None] + (outline - middle[:, None]) * (1.0 + proud / half)[:, None]
    y = np.clip(points[:, 1], grown[..., 0].min(axis=1), grown[..., 0].max(axis=1))
    back, belly = (_height(grown, y, top=top) for top in (True, False))
    return np.stack([points[:, 0], y, np.clip(points[:, 2], belly, back)], axis=1)


def knot_solid(knot: Knot, surface: SurfaceField) -> Solid:
    """Return a knot's cone from the face where it shows to its other end, cut by the skin."""
    # The cone starts and ends a little outside, so that its ends take the shape of the skin.
    reach = np.linspace(-knot.radius, knot.length + knot.far_radius, _ALONG)
    radius = radius_at(knot, reach)
    closing = np.linspace(0.0, 1.0, _CAP)
    radius = np.concatenate([radius[0] * closing, radius, radius[-1] * closing[::-1]])
    reach = np.concatenate([np.full(_CAP, reach[0]), reach, np.full(_CAP, reach[-1])])
    across, up = _perpendiculars(knot.direction)
    turn = np.linspace(0.0, 2.0 * np.pi, _AROUND, endpoint=False)
    circle = np.cos(turn)[:, None] * across + np.sin(turn)[:, None] * up
    axis = knot.entry + reach[:, None, None] * knot.direction
    return _body(knot.name, axis + radius[:, None, None] * circle, surface)


def decay_solid(decay: Decay, surface: SurfaceField) -> Solid:
    """Return a patch of decay: its ellipsoid, cut by the limb's skin."""
    polar = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 2 * _ALONG)[:, None]
    turn = np.linspace(0.0, 2.0 * np.pi, _AROUND, endpoint=False)
    unit = np.stack(
        [
            np.broadcast_to(np.sin(polar), (len(polar), _AROUND)),
            np.cos(polar) * np.cos(turn),
            np.cos(polar) * np.sin(turn),
        ],
        axis=-1,
    )
    return _body(decay.name, decay.center + unit * np.asarray(decay.semi_axes), surface)


def face_map(
    surface: SurfaceField, face: str, x: Any, across: Any, field: Array
) -> tuple[Array, Array, Array]:
    """Return one face of the limb as a grid.

    Parameters
    ----------
    surface : SurfaceField
    face : {"back", "belly"}
    x : array_like, shape (p,), m
    across : array_like, shape (k,)
        Places across the width, -1 at the archer's left edge to +1 at the right edge.
    field : ndarray, shape (S, b)
        Values on the skin.

    Returns
    -------
    y, z, values : ndarray, shape (p, k)
    """
    outline, values = outline_at(surface, x), _blend(surface, x, field)
    low, high = outline[..., 0].min(axis=1), outline[..., 0].max(axis=1)
    share = 0.5 * (1.0 + np.asarray(across, dtype=np.float64))
    y = low[:, None] + share * (high - low)[:, None]
    edge, along = _crossing(outline, y, top=face == "back")
    rows = np.arange(len(outline))[:, None]
    following = (edge + 1) % outline.shape[1]
    z = (1.0 - along) * outline[rows, edge, 1] + along * outline[rows, following, 1]
    return y, z, (1.0 - along) * values[rows, edge] + along * values[rows, following]


def _blend(surface: SurfaceField, x: Any, field: Array) -> Array:
    """Return values (S, ...) given at the stations, at places between them."""
    at = np.clip(np.asarray(x, dtype=np.float64), surface.x[0], surface.x[-1])
    after = np.clip(np.searchsorted(surface.x, at, side="right"), 1, len(surface.x) - 1)
    before = after - 1
    share = (at - surface.x[before]) / (surface.x[after] - surface.x[before])
    share = share.reshape(-1, *(1,) * (field.ndim - 1))
    blended: Array = (1.0 - share) * field[before] + share * field[after]
    return blended


def _crossing(outline: Array, y: Array, *, top: bool) -> tuple[NDArray[np.intp], Array]:
    """Return which edge of each outline (p, b, 2) passes y (p, k) highest or lowest, and where.

    Edges start at the point whose number they bear; the place runs from 0 to 1 along the edge.
    """
    start, end = outline[:, None], np.roll(outline, -1, axis=1)[:, None]
    run = end[..., 0] - start[..., 0]
    upright = np.abs(run) < 1e-12
    along = np.where(upright, 0.0, (y[..., None] - start[..., 0]) / np.where(upright, 1.0, run))
    passes = (along >= -1e-9) & (along <= 1.0 + 1e-9)
    passes &= ~upright | (np.abs(start[..., 0] - y[..., None]) < 1e-9)
    z = start[..., 1] + along * (end[..., 1] - start[..., 1])
    height = np.where(passes, z if top else -z, -np.inf)
    edge = np.argmax(height, axis=-1)
    return edge, np.take_along_axis(along, edge[..., None], axis=-1)[..., 0]


def _height(outline: Array, y: Array, *, top: bool) -> Array:
    """Return the highest or lowest z of each outline (p, b, 2) at its own y (p,)."""
    edge, along = _crossing(outline, y[:, None], top=top)
    rows = np.arange(len(outline))[:, None]
    following = (edge + 1) % outline.shape[1]
    z = (1.0 - along) * outline[rows, edge, 1] + along * outline[rows, following, 1]
    height: Array = z[:, 0]
    return height


def _perpendiculars(along: Array) -> tuple[Array, Array]:
    helper = np.eye(3)[np.argmin(np.abs(along))]
    across = np.cross(along, helper)
    across /= np.linalg.norm(across)
    return across, np.cross(along, across)


def _body(name: str, points: Array, surface: SurfaceField) -> Solid:
    """Return rings of points (r, n, 3) as a closed body cut by the skin; empty if all outside."""
    rings, around = points.shape[:2]
    flat = points.reshape(-1, 3)
    if not np.any(np.all(np.isclose(clip_to_skin(surface, flat), flat, atol=1e-9), axis=1)):
        return Solid(name=name, points=np.empty((0, 3)), quads=np.empty((0, 4), dtype=np.int64))
    here = np.arange(rings * around).reshape(rings, around)
    after = np.roll(here, -1, axis=1)
    quads = np.stack([here[:-1], after[:-1], after[1:], here[1:]], axis=-1).reshape(-1, 4)
    clipped = clip_to_skin(surface, flat, PROUD)
    return Solid(name=name, points=read_only(clipped), quads=quads.astype(np.int64))
