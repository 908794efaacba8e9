"""The wood of a limb where its stress is looked at: what does not change from state to state."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.model import LimbModel
from limbfe.analysis.yielding import crushing_strain, wood_law
from limbfe.failure.criteria import GrainStrength, strength_at_grain
from limbfe.frames import Array
from limbfe.section.fibre_law import FibreLaw
from limbfe.section.inelastic import FibreSection, modulus_along
from limbfe.stave.field import StrengthField, grain_axes, stiffness_at, strength_at
from limbfe.stave.grain import base_axes
from limbfe.stave.stave import Stave

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
        Shortening at which the crushing strength is reached; infinite inside knots.
    clear, layer
        As in `limbfe.analysis.stress.WoodStress`.
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


def limb_wood(model: LimbModel, section: FibreSection) -> LimbWood:
    """Return the wood of a model, to look at its stress in many states."""
    inside, outline = inner_points(model, section), outline_nodes(model)
    return LimbWood(
        section=section,
        inside=inside,
        skin=wood_points(model, outline),
        law=skin_law(model, outline),
        near=nearest_points(inside.points, outline),
    )


def nearest_points(inside: Array, outline: Array) -> NDArray[np.intp]:
    """Return the point inside, of (S, p, 2), nearest to every outline node of (S, b, 2)."""
    # the distance squared, but for what an outline node shares with every point inside
    inner = np.concatenate([inside, (inside**2).sum(axis=2, keepdims=True)], axis=2)
    outer = np.concatenate([-2.0 * outline, np.ones((*outline.shape[:2], 1))], axis=2)
    pairs = zip(inner, outer, strict=True)
    return np.stack([(from_node @ to_point.T).argmin(axis=1) for to_point, from_node in pairs])


def outline_nodes(model: LimbModel) -> Array:
    """Return the outline nodes of every section, shape (S, b, 2)."""
    return model.mesh.nodes[:, model.mesh.outline]


def skin_law(model: LimbModel, points: Array) -> FibreLaw:
    """Return the law of the wood along the limb at points of shape (S, p, 2)."""
    setup = model.setup
    wood = stiffness_at(setup.stave, model.x[:, None], points[..., 0], points[..., 1])
    modulus = modulus_along(wood, _ALONG_LIMB)
    return wood_law(setup.stave, model.x, points, modulus, setup.compression_law)


def inner_points(model: LimbModel, section: FibreSection) -> WoodPoints:
    """Return the wood at the integration points, element after element."""
    return wood_points(model, section.points.reshape(len(model.x), -1, 2))


def wood_points(model: LimbModel, points: Array) -> WoodPoints:
    """Return the wood at points of shape (S, p, 2)."""
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


def _modulus_along(stave: Stave, strengths: StrengthField) -> Array:
    """Return the clear wood's E_L at points, decay counted."""
    heart = stave.heartwood
    woods = (heart, stave.sapwood_wood or heart, stave.backing_wood or heart)
    modulus = np.take([wood.elasticity.E_L for wood in woods], strengths.zones.wood)
    left = np.array([*(patch.effect.E for patch in stave.decays), 1.0])
    return np.asarray(modulus * left[strengths.zones.decay])
