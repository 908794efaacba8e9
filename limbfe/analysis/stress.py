"""From section resultants back to the wood: stress, strain and strength used at full draw."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.model import LimbModel
from limbfe.analysis.results import SurfaceField
from limbfe.analysis.yielding import crushing_strain, wood_law
from limbfe.failure.criteria import MODES, StrengthUsed, strength_used
from limbfe.frames import Array, read_only
from limbfe.section.fibre_law import FibreLaw, crush
from limbfe.section.inelastic import FibreSection, recover_inelastic
from limbfe.stave.decay import Decay
from limbfe.stave.field import StrengthField, grain_axes, stiffness_at, strength_at
from limbfe.stave.knot import Knot
from limbfe.stave.stave import Stave

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
    field = recover_inelastic(section, strains, plastic)
    stations = len(model.x)
    return _compare(
        model,
        field.points.reshape(stations, -1, 2),
        field.strain.reshape(stations, -1, 6),
        field.stress.reshape(stations, -1, 6),
    )


def nearest_inside(model: LimbModel, inside: WoodStress) -> NDArray[np.intp]:
    """Return the integration point nearest to every outline node, shape (S, b)."""
    near = []
    for inner, outer in zip(inside.points, model.mesh.nodes[:, model.mesh.outline], strict=True):
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
    points = model.mesh.nodes[:, model.mesh.outline]
    if near is None:
        near = nearest_inside(model, inside)
    strain = np.take_along_axis(inside.strain, near[..., None], axis=1)
    stress = np.take_along_axis(inside.stress, near[..., None], axis=1)
    step = points - np.take_along_axis(inside.points, near[..., None], axis=1)
    strain[..., 0] += step[..., 1] * strains[:, None, 4] - step[..., 0] * strains[:, None, 5]
    law = _skin_law(model, points)
    stress[..., 0] = crush(law, strain[..., 0], np.zeros(strain.shape[:2]))[0]
    return _compare(model, points, strain, stress)


def _skin_law(model: LimbModel, points: Array) -> FibreLaw:
    wood = stiffness_at(model.setup.stave, model.x[:, None], points[..., 0], points[..., 1])
    modulus: Array = np.reciprocal(np.linalg.inv(wood)[..., 0, 0])
    setup = model.setup
    return wood_law(setup.stave, model.x, points, modulus, setup.compression_law)


def limit_used(model: LimbModel, skin: WoodStress) -> Array:
    """Return the share of the strain at the proportional limit in compression, shape (S, b).

    Zero in tension and inside knots; 1 is where the wood begins to take a set.
    """
    law = _skin_law(model, skin.points)
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


def _compare(model: LimbModel, points: Array, strain: Array, stress: Array) -> WoodStress:
    stave = model.setup.stave
    x, y, z = model.x[:, None], points[..., 0], points[..., 1]
    strengths = strength_at(stave, x, y, z)
    in_knot = strengths.in_knot
    # A hole has no finite strength; what lies in a knot is judged by its own model.
    finite = {name: np.where(in_knot, 1.0, getattr(strengths, name)) for name in _STRENGTHS}
    used = strength_used(stress=stress, grain=grain_axes(stave, x, y, z), **finite)
    # Past the crushing strength the stress stays; the strain says how far past.
    modulus = np.where(in_knot, 1.0, _modulus_along(stave, strengths))
    limit = crushing_strain(modulus, np.where(in_knot, 0.0, strengths.compression))
    shortened = np.maximum(-strain[..., 0], 0.0) / limit
    used = replace(used, compression=np.maximum(used.compression, shortened))
    kept = {mode: np.where(in_knot, 0.0, getattr(used, mode)) for mode in MODES}
    return WoodStress(
        points=points,
        strain=strain,
        stress=stress,
        used=StrengthUsed(**kept),
        clear=~in_knot & (strengths.zones.decay < 0),
        layer=strengths.zones.wood.astype(np.float64),
    )


def _modulus_along(stave: Stave, strengths: StrengthField) -> Array:
    """Return the clear wood's E_L at points, decay counted."""
    heart = stave.heartwood
    woods = (heart, stave.sapwood_wood or heart, stave.backing_wood or heart)
    modulus = np.take([wood.elasticity.E_L for wood in woods], strengths.zones.wood)
    left = np.array([*(patch.effect.E for patch in stave.decays), 1.0])
    return np.asarray(modulus * left[strengths.zones.decay])
