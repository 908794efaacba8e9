"""From section resultants back to the wood: stress, strain and strength used at full draw."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.stations import Stations
from limbfe.analysis.wood.limb_wood import (
    LimbWood,
    WoodPoints,
    inner_points,
    nearest_points,
    outline_nodes,
    skin_law,
    wood_points,
)
from limbfe.failure.criteria import StrengthUsed, compare
from limbfe.frames import Array, read_only
from limbfe.section.yielding.fibre_law import FibreLaw, crush, yield_stress
from limbfe.section.yielding.inelastic import FibreSection, recover_inelastic
from limbfe.wood.bar import BentBar, strength_reached
from limbfe.wood.belly import LEFT_AT_LIMIT

CLEAR_OF = 1.05
"""Half lengths of a zone from its middle beyond which the limb's wood counts as clear of it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WoodStress:
    """Stress in the wood at points of S sections.

    Attributes
    ----------
    points : ndarray, shape (S, p, 2), m, section coordinates (y, z)
    strain, stress : ndarray, shape (S, p, 6), section axes, Voigt
    used : StrengthUsed, arrays of shape (S, p)
        Zero inside knots, which have a verdict of their own.
    shortened : ndarray, shape (S, p)
        How far the wood is pressed along the limb, over the shortening at which it has given way
        to its plateau.
    bar : BentBar
        Of the wood at every point.
    clear : ndarray of bool, shape (S, p)
        False inside knots and decayed patches.
    layer : ndarray, shape (S, p)
        0 heartwood, 1 sapwood, 2 backing.
    size : float
        Factor in `used.tension` for the volume of stretched wood; 1 as of a test bar.
    """

    points: Array
    strain: Array
    stress: Array
    used: StrengthUsed
    shortened: Array
    bar: BentBar
    clear: NDArray[np.bool_]
    layer: Array
    size: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SurfaceField:
    """Full-draw values on the limb's skin, ring by ring.

    Attributes
    ----------
    x : ndarray, shape (S,), m
        Stations, lower tip to upper tip; those inside knots, judged apart, are left out.
    ring : ndarray, shape (S, b, 2), m
        Section coordinates (y, z) of the skin points, once round, not closed.
    layer : ndarray, shape (S, b)
        0 heartwood, 1 sapwood, 2 backing.
    axial_strain : ndarray, shape (S, b)
    axial_stress : ndarray, shape (S, b), Pa, along the grain
    strength_used : ndarray, shape (S, b)
    """

    x: Array
    ring: Array
    layer: Array
    axial_strain: Array
    axial_stress: Array
    strength_used: Array


def look_at(wood: LimbWood, strains: Array, plastic: Array) -> tuple[WoodStress, WoodStress]:
    """Return the stress on the skin and inside; see `stress_on_skin` and `stress_inside`."""
    inside = _stress_inside(wood.inside, wood.section, strains, plastic)
    return _stress_on_skin(wood.skin, wood.law, wood.near, strains, inside), inside


def look_at_relieved(
    wood: LimbWood, strains: Array, plastic: Array
) -> tuple[WoodStress, WoodStress]:
    """Return the stress on the skin and inside of a limb let go after its belly was crushed.

    What the wood is strained by along the limb is then what is left without the crushing: the
    strain behind its stress.  See `stress_inside`.
    """
    points = wood.inside
    field, shape = recover_inelastic(wood.section, strains, plastic), (*points.layer.shape, 6)
    strain, stress = field.strain.reshape(shape), field.stress.reshape(shape)
    strain[..., 0] = stress[..., 0] / points.bar.modulus
    inside = _compare(points, strain, stress)
    return _stress_on_skin(wood.skin, wood.law, wood.near, strains, inside), inside


def stress_inside(
    stations: Stations, section: FibreSection, strains: Array, plastic: Array
) -> WoodStress:
    """Return the stress at every integration point of every section.

    Parameters
    ----------
    stations : Stations
    section : FibreSection
    strains : ndarray, shape (S, 6)
        Beam strains.
    plastic : ndarray, shape (S, m, q)
        How far every fibre is crushed.
    """
    return _stress_inside(inner_points(stations, section), section, strains, plastic)


def _stress_inside(
    points: WoodPoints, section: FibreSection, strains: Array, plastic: Array
) -> WoodStress:
    field, shape = recover_inelastic(section, strains, plastic), (*points.layer.shape, 6)
    return _compare(points, field.strain.reshape(shape), field.stress.reshape(shape))


def nearest_inside(stations: Stations, inside: WoodStress) -> NDArray[np.intp]:
    """Return the integration point nearest to every outline node, shape (S, b)."""
    return nearest_points(inside.points, outline_nodes(stations))


def stress_on_skin(
    stations: Stations, strains: Array, inside: WoodStress, near: NDArray[np.intp] | None = None
) -> WoodStress:
    """Return the stress at the outline nodes of every section, once round, anticlockwise.

    Parameters
    ----------
    stations : Stations
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
    outline = outline_nodes(stations)
    near = nearest_points(inside.points, outline) if near is None else near
    points, law = wood_points(stations, outline), skin_law(stations, outline)
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


def limit_used(law: FibreLaw, skin: WoodStress) -> Array:
    """Return the share of the strain at the proportional limit in compression, shape (S, b).

    Zero in tension and inside knots; 1 is where the wood begins to take a set.

    Parameters
    ----------
    law : FibreLaw
        Of the skin; see `LimbWood`.
    skin : WoodStress
    """
    limit = yield_stress(law, np.full(law.level.shape, LEFT_AT_LIMIT)) / law.modulus
    return np.asarray(np.maximum(-skin.strain[..., 0], 0.0) / (limit + LEFT_AT_LIMIT))


def surface_field(stations: Stations, skin: WoodStress) -> SurfaceField:
    """Return the skin's values as the results hand them on, knots' own stations left out."""
    clear = clear_stations(stations)
    return SurfaceField(
        x=read_only(stations.x[clear]),
        ring=read_only(skin.points[clear]),
        layer=read_only(skin.layer[clear]),
        axial_strain=read_only(skin.strain[clear, :, 0]),
        axial_stress=read_only(skin.stress[clear, :, 0]),
        strength_used=read_only(skin.used.worst[clear]),
    )


def clear_stations(stations: Stations) -> NDArray[np.bool_]:
    """Return which stations have no knot in their section, shape (S,).

    A section's own stress beside a knot is that of an endlessly long knot; what happens there is
    for the knot's local model to say.
    """
    clear = np.ones(len(stations.x), dtype=bool)
    for knot in stations.setup.stave.knots:
        x, reach = knot.extent
        clear &= np.abs(stations.x - x) > CLEAR_OF * reach
    return clear


def _compare(wood: WoodPoints, strain: Array, stress: Array) -> WoodStress:
    used = compare(wood.strength, stress)
    # Past the crushing strength the stress of the belly says nothing; a bar bent as far does.
    pressed = np.maximum(-strain[..., 0], 0.0)
    reached = np.where(np.isinf(wood.crushed_at), 0.0, strength_reached(wood.bar, pressed))
    return WoodStress(
        points=wood.points,
        strain=strain,
        stress=stress,
        used=replace(used, compression=reached),
        shortened=pressed / wood.crushed_at,
        bar=wood.bar,
        clear=wood.clear,
        layer=wood.layer,
    )
