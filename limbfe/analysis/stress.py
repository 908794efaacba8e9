"""From section resultants back to the wood: stress, strain and strength used at full draw."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.model import LimbModel
from limbfe.analysis.results import SurfaceField
from limbfe.analysis.yielding import crushing_strain, wood_law
from limbfe.failure.criteria import GrainStrength, StrengthUsed, compare, strength_at_grain
from limbfe.frames import Array, read_only
from limbfe.section.fibre_law import FibreLaw, crush
from limbfe.section.inelastic import FibreSection, modulus_along, recover_inelastic
from limbfe.stave.decay import Decay
from limbfe.stave.field import StrengthField, grain_axes, stiffness_at, strength_at
from limbfe.stave.grain import base_axes
from limbfe.stave.knot import Knot
from limbfe.stave.stave import Stave

_ALONG_LIMB = np.array([1.0, 0.0, 0.0])
_STRENGTHS = ("tension", "compression", "shear", "tension_across", "compression_across")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WoodStress:
    """Stress in the wood at points of S sections.

    Attributes
    ----------
    points : ndarray, shape (S, p, 2), m, section coordinates (y, z)
    strain, stress : ndarray, shape (S, p, 6), section axes, Voigt
    used : StrengthUsed, arrays of shape (S, p)
        Zero inside knots, which have a verdict of their own.
    clear : ndarray of bool, shape (S, p)
        False inside knots and decayed patches.
    layer : ndarray, shape (S, p)
        0 heartwood, 1 sapwood, 2 backing.
    """

    points: Array
    strain: Array
    stress: Array
    used: StrengthUsed
    clear: NDArray[np.bool_]
    layer: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WoodPoints:
    """The wood at points of S sections, whatever the stress.

    Attributes
    ----------
    points : ndarray, shape (S, p, 2), m
    strength : GrainStrength
        Infinite inside knots.
    crushed_at : ndarray, shape (S, p)
        Shortening at which the crushing strength is reached; infinite inside knots.
    clear, layer
        As in `WoodStress`.
    """

    points: Array
    strength: GrainStrength
    crushed_at: Array
    clear: NDArray[np.bool_]
    layer: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LimbWood:
    """What every look at the stress of a limb needs to know of it, whatever its strains.

    Attributes
    ----------
    section : FibreSection
    inside, skin : WoodPoints
        At the integration points and at the outline nodes.
    law : FibreLaw
        Of the skin, along the limb, shape (S, b).
    near : ndarray of int, shape (S, b)
        The integration point nearest to every outline node.
    """

    section: FibreSection
    inside: WoodPoints
    skin: WoodPoints
    law: FibreLaw
    near: NDArray[np.intp]


def limb_wood(
    model: LimbModel, section: FibreSection, near: NDArray[np.intp] | None = None
) -> LimbWood:
    """Return the wood of a model, to look at its stress in many states.

    Parameters
    ----------
    model : LimbModel
    section : FibreSection
    near : ndarray of int, shape (S, b), optional
        Looked for when left out.
    """
    inside, outline = _inner_points(model, section), _outline(model)
    return LimbWood(
        section=section,
        inside=inside,
        skin=_wood_points(model, outline),
        law=_skin_law(model, outline),
        near=_nearest(inside.points, outline) if near is None else near,
    )


def look_at(wood: LimbWood, strains: Array, plastic: Array) -> tuple[WoodStress, WoodStress]:
    """Return the stress on the skin and inside; see `stress_on_skin` and `stress_inside`."""
    inside = _stress_inside(wood.inside, wood.section, strains, plastic)
    return _stress_on_skin(wood.skin, wood.law, wood.near, strains, inside), inside


def stress_inside(
    model: LimbModel, section: FibreSection, strains: Array, plastic: Array
) -> WoodStress:
    """Return the stress at every integration point of every section.

    Parameters
    ----------
    model : LimbModel
    section : FibreSection
    strains : ndarray, shape (S, 6)
        Beam strains.
    plastic : ndarray, shape (S, m, q)
        How far every fibre is crushed.
    """
    return _stress_inside(_inner_points(model, section), section, strains, plastic)


def _stress_inside(
    points: WoodPoints, section: FibreSection, strains: Array, plastic: Array
) -> WoodStress:
    field, shape = recover_inelastic(section, strains, plastic), (*points.layer.shape, 6)
    return _compare(points, field.strain.reshape(shape), field.stress.reshape(shape))


def nearest_inside(model: LimbModel, inside: WoodStress) -> NDArray[np.intp]:
    """Return the integration point nearest to every outline node, shape (S, b)."""
    return _nearest(inside.points, _outline(model))


def _nearest(inside: Array, outline: Array) -> NDArray[np.intp]:
    near = []
    for inner, outer in zip(inside, outline, strict=True):
        # A point's distance squared but for what it shares with every other integration point.
        near.append(((inner**2).sum(axis=1) - 2.0 * (outer @ inner.T)).argmin(axis=1))
    return np.stack(near)


def stress_on_skin(
    model: LimbModel, strains: Array, inside: WoodStress, near: NDArray[np.intp] | None = None
) -> WoodStress:
    """Return the stress at the outline nodes of every section, once round, anticlockwise.

    Parameters
    ----------
    model : LimbModel
    strains : ndarray, shape (S, 6)
        Beam strains of a first draw.
    inside : WoodStress
        From `stress_inside`.
    near : ndarray of int, shape (S, b), optional
        The integration points to start from; those of `nearest_inside` when left out.

    Notes
    -----
    The field of the nearest integration point is carried to the skin along the plane-section
    strain and the wood's own law.  The mesh's strain is not taken on the skin: where the outline
    is smooth and the mesh has a corner, an element's map is singular at that very node.
    """
    outline = _outline(model)
    near = _nearest(inside.points, outline) if near is None else near
    points, law = _wood_points(model, outline), _skin_law(model, outline)
    return _stress_on_skin(points, law, near, strains, inside)


def _stress_on_skin(
    skin: WoodPoints, law: FibreLaw, near: NDArray[np.intp], strains: Array, inside: WoodStress
) -> WoodStress:
    strain = np.take_along_axis(inside.strain, near[..., None], axis=1)
    stress = np.take_along_axis(inside.stress, near[..., None], axis=1)
    step = skin.points - np.take_along_axis(inside.points, near[..., None], axis=1)
    strain[..., 0] += step[..., 1] * strains[:, None, 4] - step[..., 0] * strains[:, None, 5]
    stress[..., 0] = crush(law, strain[..., 0], np.zeros(strain.shape[:2]))[0]
    return _compare(skin, strain, stress)


def _outline(model: LimbModel) -> Array:
    """Return the outline nodes of every section, shape (S, b, 2)."""
    return model.mesh.nodes[:, model.mesh.outline]


def _skin_law(model: LimbModel, points: Array) -> FibreLaw:
    setup = model.setup
    wood = stiffness_at(setup.stave, model.x[:, None], points[..., 0], points[..., 1])
    modulus = modulus_along(wood, _ALONG_LIMB)
    return wood_law(setup.stave, model.x, points, modulus, setup.compression_law)


def limit_used(law: FibreLaw, skin: WoodStress) -> Array:
    """Return the share of the strain at the proportional limit in compression, shape (S, b).

    Zero in tension and inside knots; 1 is where the wood begins to take a set.

    Parameters
    ----------
    law : FibreLaw
        Of the skin; see `LimbWood`.
    skin : WoodStress
    """
    return np.asarray(np.maximum(-law.modulus * skin.strain[..., 0], 0.0) / law.start.min(axis=0))


def surface_field(model: LimbModel, skin: WoodStress) -> SurfaceField:
    """Return the skin's values as the results hand them on, knots' own stations left out."""
    clear = clear_stations(model)
    return SurfaceField(
        x=read_only(model.x[clear]),
        ring=read_only(skin.points[clear]),
        layer=read_only(skin.layer[clear]),
        axial_strain=read_only(skin.strain[clear, :, 0]),
        axial_stress=read_only(skin.stress[clear, :, 0]),
        strength_used=read_only(skin.used.worst[clear]),
    )


def zone_extent(zone: Knot | Decay) -> tuple[float, float]:
    """Return the station of a zone and half its length along the limb (m)."""
    if isinstance(zone, Knot):
        return zone.x, max(zone.radius, zone.far_radius)
    return float(zone.center[0]), float(zone.semi_axes[0])


def clear_stations(model: LimbModel) -> NDArray[np.bool_]:
    """Return which stations have no knot in their section, shape (S,).

    A section's own stress beside a knot is that of an endlessly long knot; what happens there is
    for the knot's local model to say.
    """
    clear = np.ones(len(model.x), dtype=bool)
    for knot in model.setup.stave.knots:
        x, reach = zone_extent(knot)
        clear &= np.abs(model.x - x) > 1.05 * reach
    return clear


def _inner_points(model: LimbModel, section: FibreSection) -> WoodPoints:
    return _wood_points(model, section.points.reshape(len(model.x), -1, 2))


def _wood_points(model: LimbModel, points: Array) -> WoodPoints:
    stave = model.setup.stave
    x, y, z = model.x[:, None], points[..., 0], points[..., 1]
    found = strength_at(stave, x, y, z)
    # A hole has no finite strength; what lies in a knot is judged by its own model.
    in_knot = found.in_knot
    strength = {name: np.where(in_knot, np.inf, getattr(found, name)) for name in _STRENGTHS}
    # Where the grain runs the same way everywhere, rings turn about it, which no mode can tell.
    axes = base_axes(stave) if stave.spiral == 0.0 else grain_axes(stave, x, y, z)
    modulus = _modulus_along(stave, found)
    crushed_at = crushing_strain(modulus, np.where(in_knot, 0.0, found.compression))
    return WoodPoints(
        points=points,
        strength=strength_at_grain(grain=axes, **strength),
        crushed_at=np.where(in_knot, np.inf, crushed_at),
        clear=~in_knot & (found.zones.decay < 0),
        layer=found.zones.wood.astype(np.float64),
    )


def _compare(wood: WoodPoints, strain: Array, stress: Array) -> WoodStress:
    used = compare(wood.strength, stress)
    # Past the crushing strength the stress stays; the strain says how far past.
    shortened = np.maximum(-strain[..., 0], 0.0) / wood.crushed_at
    return WoodStress(
        points=wood.points,
        strain=strain,
        stress=stress,
        used=replace(used, compression=np.maximum(used.compression, shortened)),
        clear=wood.clear,
        layer=wood.layer,
    )


def _modulus_along(stave: Stave, strengths: StrengthField) -> Array:
    """Return the clear wood's E_L at points, decay counted."""
    heart = stave.heartwood
    woods = (heart, stave.sapwood_wood or heart, stave.backing_wood or heart)
    modulus = np.take([wood.elasticity.E_L for wood in woods], strengths.zones.wood)
    left = np.array([*(patch.effect.E for patch in stave.decays), 1.0])
    return np.asarray(modulus * left[strengths.zones.decay])
