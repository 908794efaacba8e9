"""The wood at points: stiffness, density and strength anywhere in the limb."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.frames import Array, rotate_stiffness
from limbfe.stave.grain import (
    base_axes,
    grain_axes,
    ring_angles,
    same_everywhere,
    shapes_for,
)
from limbfe.stave.harmonics import turned_stiffness
from limbfe.stave.knot_wood import (
    KNOT_MODULUS_TYPICAL,
    carries,
    knot_density,
    knot_stiffness,
    knot_strength,
    void_stiffness,
)
from limbfe.stave.profile import SectionShapes, grain_at
from limbfe.stave.stave import Grain, Stave
from limbfe.stave.zones import Index, Zones, find_zones, zone_at
from limbfe.wood.elasticity import scale_elasticity, stiffness
from limbfe.wood.wood import Wood

__all__ = [
    "StrengthField",
    "Zones",
    "grain_axes",
    "stiffness_at",
    "strength_at",
    "wood_at",
    "zone_at",
]

_N_WOODS = 3
_STRENGTHS = {
    "tension": "tension",
    "compression": "compression",
    "compression_proportional_limit": "compression",
    "compression_plateau": "compression",
    "shear": "shear",
    "tension_across": "across",
    "compression_across": "across",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrengthField:
    """Strengths at points, decay applied.

    Attributes
    ----------
    tension, compression, compression_proportional_limit, compression_plateau, shear : ndarray
        Shape (...), Pa.
        Along the grain; inside a knot along the limb, and infinite where a hole carries nothing.
    tension_across, compression_across : ndarray, shape (...), Pa
    in_knot : ndarray of bool, shape (...)
    zones : Zones
    """

    tension: Array
    compression: Array
    compression_proportional_limit: Array
    compression_plateau: Array
    shear: Array
    tension_across: Array
    compression_across: Array
    in_knot: NDArray[np.bool_]
    zones: Zones


def stiffness_at(
    stave: Stave, x: Any, y: Any, z: Any, *, knot_modulus: float = KNOT_MODULUS_TYPICAL
) -> Array:
    """Return the stiffness of the wood.

    Parameters
    ----------
    stave : Stave
    x, y, z : array_like, m, section coordinates
        Broadcast against each other.
    knot_modulus : float, Pa
        Young's modulus of live and dead knots across the branch.

    Returns
    -------
    ndarray, shape (..., 6, 6), Pa, section axes, Voigt order of `limbfe.frames`

    Raises
    ------
    GeometryError
        If a point lies beyond a tip.
    """
    shapes = shapes_for(stave, x, y, z)
    return _stiffness(stave, shapes, find_zones(stave, shapes, x, y, z), y, z, knot_modulus)


def wood_at(stave: Stave, x: Any, y: Any, z: Any) -> tuple[Array, Array]:
    """Return `stiffness_at` and the density (kg/m3) of points, looked up once."""
    shapes = shapes_for(stave, x, y, z)
    zones = find_zones(stave, shapes, x, y, z)
    C = _stiffness(stave, shapes, zones, y, z, KNOT_MODULUS_TYPICAL)
    return C, _density(stave, zones)


def strength_at(stave: Stave, x: Any, y: Any, z: Any) -> StrengthField:
    """Return the strengths of the wood.

    Parameters
    ----------
    stave : Stave
    x, y, z : array_like, m, section coordinates
        Broadcast against each other.

    Returns
    -------
    StrengthField

    Raises
    ------
    GeometryError
        If a point lies beyond a tip.
    """
    zones = zone_at(stave, x, y, z)
    woods = _woods(stave)
    in_knot = zones.knot >= 0
    rots = (zones.decay >= 0) & ~_holds_filler(stave, zones)
    depth = np.broadcast_to(np.asarray(z, dtype=np.float64), zones.wood.shape)
    inside = [zones.knot == index for index in range(len(stave.knots))]
    knots = [knot_strength(knot, stave.heartwood) for knot in stave.knots]
    values = {}
    for name, multiplier in _STRENGTHS.items():
        clear = [getattr(wood.strength, name) for wood in woods]
        value = np.asarray(np.take(clear, zones.wood))
        for knot, at, own in zip(stave.knots, inside, knots, strict=True):
            held = carries(knot, depth[at])
            value[at] = np.where(held, getattr(own, name), np.inf)
        if np.any(rots):
            factor = np.array([getattr(patch.effect, multiplier) for patch in stave.decays])
            value[rots] *= factor[zones.decay[rots]]
        values[name] = value
    return StrengthField(**values, in_knot=in_knot, zones=zones)


def _woods(stave: Stave) -> tuple[Wood, Wood, Wood]:
    """Return the woods by zone; a layer that is absent repeats the heartwood and is never met."""
    heart = stave.heartwood
    return heart, stave.sapwood_wood or heart, stave.backing_wood or heart


def _material(zones: Zones) -> Index:
    """Return one number for wood and decay together: ``wood + 3 (decay + 1)``."""
    if not np.any(zones.decay >= 0):
        return zones.wood
    return (zones.wood + _N_WOODS * (zones.decay + 1)).astype(np.int16)


def _stiffness(
    stave: Stave, shapes: SectionShapes, zones: Zones, y: Any, z: Any, knot_modulus: float
) -> Array:
    material = _material(zones)
    kinds = np.flatnonzero(np.bincount(material.ravel()))
    local = np.zeros((kinds.max(initial=0) + 1, 6, 6))
    for kind in kinds:
        local[kind] = _material_stiffness(stave, int(kind))
    if same_everywhere(stave):
        out = rotate_stiffness(local, grain_axes(stave, 0.0, 0.0, 0.0))[material]
    else:
        out = _turned(local, material, shapes, grain_at(stave, shapes.x), (y, z))
    _fill_knots(stave, zones, np.asarray(z, dtype=np.float64), knot_modulus, out)
    return out


def _turned(
    local: Array, material: Index, shapes: SectionShapes, grain: Grain, at: tuple[Any, Any]
) -> Array:
    """Return the stiffness at points (y, z), all points of one slope of the grain at once."""
    psi, spiral = (angle.ravel() for angle in ring_angles(shapes, grain, *at))
    slopes = np.stack([grain.run_out, grain.sideways_grain]).reshape(2, -1)
    (run_out, sideways), which = np.unique(slopes, axis=1, return_inverse=True)
    bases = base_axes(replace(grain, run_out=run_out, sideways_grain=sideways))
    kind, out = material.ravel(), np.empty((material.size, 6, 6))
    group = np.broadcast_to(which.reshape(shapes.x.shape), material.shape).ravel()
    for k, base in enumerate(bases):
        here = group == k if len(bases) > 1 else slice(None)
        out[here] = turned_stiffness(local, kind[here], base, psi[here], spiral[here])
    return out.reshape(*material.shape, 6, 6)


def _density(stave: Stave, zones: Zones) -> Array:
    out = np.asarray(np.take([wood.density for wood in _woods(stave)], zones.wood))
    for index, knot in enumerate(stave.knots):
        out[zones.knot == index] = knot_density(knot, stave.heartwood)
    rots = zones.decay >= 0
    if np.any(rots):
        factor = np.array([patch.effect.density for patch in stave.decays])
        rots &= ~_holds_filler(stave, zones)
        out[rots] *= factor[zones.decay[rots]]
    return out


def _material_stiffness(stave: Stave, kind: int) -> Array:
    """Return the stiffness in wood axes of one number of `_material`."""
    decay, wood = divmod(kind, _N_WOODS)
    elasticity = _woods(stave)[wood].elasticity
    if decay:
        effect = stave.decays[decay - 1].effect
        elasticity = scale_elasticity(elasticity, E=effect.E, G=effect.G)
    return stiffness(elasticity)


def _fill_knots(stave: Stave, zones: Zones, z: Array, modulus: float, out: Array) -> None:
    """Write the stiffness inside knots over the clear wood's."""
    z = np.broadcast_to(z, zones.wood.shape)
    for index, knot in enumerate(stave.knots):
        at = zones.knot == index
        if not np.any(at):
            continue
        factor = np.ones(len(stave.decays) + 1)
        if knot.filler is None:
            factor[1:] = [patch.effect.E for patch in stave.decays]
        sound = knot_stiffness(knot, stave.heartwood, modulus)
        softened = factor[zones.decay[at] + 1][:, None, None] * sound
        out[at] = np.where(carries(knot, z[at])[:, None, None], softened, void_stiffness())


def _holds_filler(stave: Stave, zones: Zones) -> NDArray[np.bool_]:
    """Return which points are filler, which does not rot."""
    filled = np.array([False, *(knot.filler is not None for knot in stave.knots)])
    result: NDArray[np.bool_] = filled[zones.knot + 1]
    return result
