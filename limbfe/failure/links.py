"""Weakest links beside a zone: a small hot spot is worth its volume, no more.

Clear wood is judged by the integral of (stress / strength)^k over all stretched wood
(`limbfe.wood.weakest_link`).  So is a zone: every window stands for the wood nearest to it, and
what the zone adds to the sum of the sound stretch of limb in its place is set against the sum of
the whole limb.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.defect.in_wood import is_wood
from limbfe.defect.recovery import Samples
from limbfe.defect.strip import Ellipse
from limbfe.failure.clear import sound_links
from limbfe.failure.layer_windows import Used
from limbfe.failure.problem import DepthLayer, ZoneUse
from limbfe.failure.window_operators import Ground
from limbfe.fem.spatial import cKDTree
from limbfe.frames import Array
from limbfe.wood.weakest_link import SHAPE

_DEPTHS = 401
_PARTS = 4
"""Each way, of cells that a rim cuts; of an even number none has its middle on a round rim."""
_EQUALLY_NEAR, _EQUAL = 4, 1e-9
"""Windows looked at round a sample, and the difference of distances, m, that is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Links:
    """Links of one plane of a zone: integrals over its area, m2.

    Attributes
    ----------
    z : float, m
    layer : float, m
        Depth that the plane stands for where it is the only one.
    zone, sound : float, m2
        Of (stress / strength)^k, with the zone and without.
    volume : float, m3
        Behind the strength.
    """

    z: float
    layer: float
    zone: float
    sound: float
    volume: float


def plane_links(
    piece: DepthLayer, focus: Ellipse, reach: float, used: Used, samples: Samples, ground: Ground
) -> Links:
    """Return the links of one plane.

    Parameters
    ----------
    piece : DepthLayer
    focus : Ellipse
        The zone in it.
    reach : float, m
        Half the length of limb that is searched for windows.
    used : Used
        Tension strength used in every window.
    samples : Samples
    ground : Ground
    """
    area = _wood_areas(samples, ground, focus.x, reach)
    there = np.flatnonzero(area)
    zone = 0.0
    if len(used.value) and len(there):
        zone = float(area[there] @ _nearest(used, used.value**SHAPE, samples.points[there]))
    return Links(
        z=piece.z,
        layer=piece.layer,
        zone=zone,
        sound=sound_links(piece, focus.x, reach, SHAPE),
        volume=piece.strength.volume,
    )


def _wood_areas(samples: Samples, ground: Ground, x: float, reach: float) -> Array:
    """Return the wood that every sample stands for within the reach, m2.

    Of cells that a rim or an edge cuts, and at the ends, it is what lies there: else a hair's
    breadth decides for whole cells.
    """
    step, points = samples.grid.step, samples.points
    area = step**2 * np.clip((reach - np.abs(points[:, 0] - x)) / step + 0.5, 0.0, 1.0)
    past = np.arange(samples.beyond.shape[1], len(points))
    cut = np.concatenate([np.unique(samples.beyond.indices), past])
    cut = cut[np.abs(points[cut, 0] - x) < reach + step]
    part = step * ((np.arange(_PARTS) + 0.5) / _PARTS - 0.5)
    inner = points[cut, None] + np.stack(np.meshgrid(part, part), axis=-1).reshape(-1, 2)
    within = np.clip((reach - np.abs(inner[..., 0] - x)) * _PARTS / step + 0.5, 0.0, 1.0)
    wood = is_wood(ground.strip, ground.solids, inner)
    area[cut] = step**2 * (wood * within).mean(axis=1)
    return area


def _nearest(used: Used, values: Array, points: Array) -> Array:
    """Return the value of the window nearest to each point, the mean of those equally near.

    Windows and samples lie on grids: many a sample lies half way, where rounding would choose.
    """
    count = min(_EQUALLY_NEAR, len(values))
    distance, which = cKDTree(used.windows.centre).query(points, k=[*range(1, count + 1)])
    equal = distance <= distance[:, :1] + _EQUAL
    mean: Array = (equal * values[which]).sum(axis=1) / equal.sum(axis=1)
    return mean


def zone_use(planes: tuple[Links, ...], limb: float) -> ZoneUse:
    """Return the strength used through the depth of a zone.

    Parameters
    ----------
    planes : tuple of Links
    limb : float
        Strength used of the whole limb without the zone.

    Notes
    -----
    The k-th root of a plane's integral goes with its stress, so it is taken straight from plane to
    plane and on to the faces, and the integral through the depth of its k-th power.
    """
    zone, sound = (_through(planes, which) for which in ("zone", "sound"))
    return ZoneUse(zone=zone, sound=sound, limb=max(limb, sound))


def _through(planes: tuple[Links, ...], which: str) -> float:
    # a trial may look twice at one depth: it is one plane, the harder worked
    z, number = np.unique(np.round([one.z for one in planes], 9), return_inverse=True)
    root, layer = np.zeros(len(z)), np.zeros(len(z))
    for k, one in zip(number.ravel(), planes, strict=True):
        root[k] = max(root[k], (getattr(one, which) / one.volume) ** (1.0 / SHAPE))
        layer[k] += one.layer
    if len(z) == 1:
        return float(root[0] * layer[0] ** (1.0 / SHAPE))
    # the planes stand for layers of equal depth: the outermost reach half a layer further
    low, high = z[0] - 0.5 * layer[0], z[-1] + 0.5 * layer[-1]
    low, high = max(low, z[0] - _inset(z)), min(high, z[-1] + _inset(z))
    at = np.linspace(low, high, _DEPTHS)
    slope = [np.diff(root)[k] / np.diff(z)[k] for k in (0, -1)]
    value = np.interp(at, z, root)
    value += np.minimum(at - z[0], 0.0) * slope[0] + np.maximum(at - z[-1], 0.0) * slope[1]
    value = np.maximum(value, 0.0) ** SHAPE
    whole = float(np.sum(0.5 * (value[1:] + value[:-1])) * (at[1] - at[0]))
    return float(whole ** (1.0 / SHAPE))


def _inset(z: Array) -> float:
    """Depth (m) from the outermost planes to the faces: they lie half a window inside."""
    return float(min(1e-3, 0.5 * np.diff(z).min()))
