"""The wood of a limb where its stress is looked at: what does not change from state to state."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.stations import Stations
from limbfe.analysis.bow.yielding import wood_law
from limbfe.failure.criteria import GrainStrength, strength_at_grain
from limbfe.frames import Array
from limbfe.section.yielding.fibre_law import FibreLaw
from limbfe.section.yielding.inelastic import FibreSection, modulus_along
from limbfe.stave.field import StrengthField, stiffness_at, strength_at
from limbfe.stave.grain import fibre_axes
from limbfe.stave.stave import Stave
from limbfe.wood.bar import BentBar, bent_bar
from limbfe.wood.belly import BellyLaw, crushed_strain

_ALONG_LIMB = np.array([1.0, 0.0, 0.0])
_STRENGTHS = ("tension", "compression", "shear", "tension_across", "compression_across")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WoodPoints:
    """The wood at points of S sections, whatever the stress.

    Attributes
    ----------
    points : ndarray, shape (S, p, 2), m
    strength : GrainStrength
        Infinite inside knots.
    crushed_at : ndarray, shape (S, p)
        Shortening at which the wood has given way to its plateau, less by what the angle of the
        grain takes from its crushing strength; infinite inside knots.
    bar : BentBar
        Of the wood at every point, at its own angle of the grain; of clear wood's figures in knots.
    clear, layer
        As in `limbfe.analysis.wood.stress.WoodStress`.
    """

    points: Array
    strength: GrainStrength
    crushed_at: Array
    bar: BentBar
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


@lru_cache(maxsize=1)  # asked for state after state of one bow
def limb_wood(stations: Stations, section: FibreSection) -> LimbWood:
    """Return the wood of a model, to look at its stress in many states."""
    inside, outline = inner_points(stations, section), outline_nodes(stations)
    return LimbWood(
        section=section,
        inside=inside,
        skin=wood_points(stations, outline),
        law=skin_law(stations, outline),
        near=nearest_points(inside.points, outline),
    )


def nearest_points(inside: Array, outline: Array) -> NDArray[np.intp]:
    """Return the point inside, of (S, p, 2), nearest to every outline node of (S, b, 2)."""
    # the distance squared, but for what an outline node shares with every point inside
    inner = np.concatenate([inside, (inside**2).sum(axis=2, keepdims=True)], axis=2)
    outer = np.concatenate([-2.0 * outline, np.ones((*outline.shape[:2], 1))], axis=2)
    pairs = zip(inner, outer, strict=True)
    return np.stack([(from_node @ to_point.T).argmin(axis=1) for to_point, from_node in pairs])


def outline_nodes(stations: Stations) -> Array:
    """Return the outline nodes of every section, shape (S, b, 2)."""
    return stations.mesh.nodes[:, stations.mesh.outline]


def skin_law(stations: Stations, points: Array) -> FibreLaw:
    """Return the law of the wood along the limb at points of shape (S, p, 2)."""
    setup = stations.setup
    wood = stiffness_at(setup.stave, stations.x[:, None], points[..., 0], points[..., 1])
    modulus = modulus_along(wood, _ALONG_LIMB)
    return wood_law(setup.stave, stations.x, points, modulus)


def inner_points(stations: Stations, section: FibreSection) -> WoodPoints:
    """Return the wood at the integration points, element after element."""
    return wood_points(stations, section.points.reshape(len(stations.x), -1, 2))


def wood_points(stations: Stations, points: Array) -> WoodPoints:
    """Return the wood at points of shape (S, p, 2)."""
    stave = stations.setup.stave
    x, y, z = stations.x[:, None], points[..., 0], points[..., 1]
    found = strength_at(stave, x, y, z)
    # A hole has no finite strength; what lies in a knot is judged by its own model.
    in_knot = found.in_knot
    strength = {name: np.where(in_knot, np.inf, getattr(found, name)) for name in _STRENGTHS}
    # Rings turn about the grain, which no mode can tell.
    at_grain = strength_at_grain(grain=fibre_axes(stave, x, y, z), **strength)
    modulus = _modulus_along(stave, found)
    weaker = np.divide(
        at_grain.compression, found.compression, out=np.ones(in_knot.shape), where=~in_knot
    )
    bar = bent_bar(_belly(found, modulus, weaker), np.where(in_knot, 1.0, at_grain.tension))
    crushed_at = weaker * crushed_strain(modulus, found.compression_plateau)
    return WoodPoints(
        points=points,
        strength=at_grain,
        crushed_at=np.where(in_knot, np.inf, crushed_at),
        bar=bar,
        clear=~in_knot & (found.zones.decay < 0),
        layer=found.zones.wood.astype(np.float64),
    )


def _belly(found: StrengthField, modulus: Array, weaker: Array) -> BellyLaw:
    """Return the law of the wood pressed along the limb; one that bears nothing in knots."""
    crushing, limit, plateau = (
        np.where(found.in_knot, 1.0, weaker * getattr(found, name))
        for name in ("compression", "compression_proportional_limit", "compression_plateau")
    )
    return BellyLaw(modulus=modulus, crushing=crushing, limit=limit, plateau=plateau)


def _modulus_along(stave: Stave, strengths: StrengthField) -> Array:
    """Return the clear wood's E_L at points, decay counted."""
    heart = stave.heartwood
    woods = (heart, stave.sapwood_wood or heart, stave.backing_wood or heart)
    modulus = np.take([wood.elasticity.E_L for wood in woods], strengths.zones.wood)
    left = np.array([*(patch.effect.E for patch in stave.decays), 1.0])
    return np.asarray(modulus * left[strengths.zones.decay])
