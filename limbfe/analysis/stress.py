"""From section resultants back to the wood: stress, strain and strength used at full draw."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from limbfe.analysis.model import LimbModel
from limbfe.analysis.results import SurfaceField
from limbfe.analysis.yielding import FibreLaw, axial_basis, fibre_law, fibre_stress
from limbfe.failure.criteria import MODES, StrengthUsed, strength_used
from limbfe.frames import Array, read_only
from limbfe.section.recovery import recover
from limbfe.stave.field import grain_axes, strength_at

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


def stress_inside(model: LimbModel, strains: Array, resultants: Array) -> WoodStress:
    """Return the stress at every integration point of every section.

    Parameters
    ----------
    model : LimbModel
    strains : ndarray, shape (S, 6)
        Beam strains.
    resultants : ndarray, shape (S, 6), N and N m, section axes

    Notes
    -----
    Shear and stress across the grain are those of the elastic section under the resultants;
    the axial stress follows the fibre law at the plane-section strain.
    """
    field = recover(model.sections, resultants)
    stations = len(model.x)
    return _with_axial(
        model,
        field.points.reshape(stations, -1, 2),
        np.array(field.strain).reshape(stations, -1, 6),
        np.array(field.stress).reshape(stations, -1, 6),
        strains,
    )


def stress_on_skin(model: LimbModel, strains: Array, inside: WoodStress) -> WoodStress:
    """Return the stress at the outline nodes of every section, once round, anticlockwise.

    Parameters
    ----------
    model : LimbModel
    strains : ndarray, shape (S, 6)
        Beam strains.
    inside : WoodStress
        From `stress_inside`.

    Notes
    -----
    All but the axial stress is that of the nearest integration point.  The mesh's own strain is
    not taken on the skin: where the outline is smooth and the mesh has a corner, an element's
    map is singular at that very node.
    """
    points = model.mesh.nodes[:, model.mesh.outline]
    near = np.stack(
        [cKDTree(inner).query(outer)[1] for inner, outer in zip(inside.points, points, strict=True)]
    )
    strain = np.take_along_axis(inside.strain, near[..., None], axis=1)
    stress = np.take_along_axis(inside.stress, near[..., None], axis=1)
    return _with_axial(model, points, strain, stress, strains)


def _with_axial(
    model: LimbModel, points: Array, strain: Array, stress: Array, strains: Array
) -> WoodStress:
    law = fibre_law(model, points)
    axial = np.einsum("spi,si->sp", axial_basis(points), strains[:, [0, 4, 5]])
    strain[..., 0], stress[..., 0] = axial, fibre_stress(law, axial)
    return _compare(model, law, points, strain, stress)


def surface_field(model: LimbModel, skin: WoodStress) -> SurfaceField:
    """Return the skin's values as the results hand them on."""
    return SurfaceField(
        x=model.x,
        ring=read_only(skin.points),
        layer=read_only(skin.layer),
        axial_strain=read_only(skin.strain[..., 0]),
        axial_stress=read_only(skin.stress[..., 0]),
        strength_used=read_only(skin.used.worst),
    )


def _compare(
    model: LimbModel, law: FibreLaw, points: Array, strain: Array, stress: Array
) -> WoodStress:
    stave = model.setup.stave
    x, y, z = model.x[:, None], points[..., 0], points[..., 1]
    strengths = strength_at(stave, x, y, z)
    in_knot = strengths.in_knot
    # A hole has no finite strength; what lies in a knot is judged by its own model.
    finite = {name: np.where(in_knot, 1.0, getattr(strengths, name)) for name in _STRENGTHS}
    used = strength_used(stress=stress, grain=grain_axes(stave, x, y, z), **finite)
    # Past the crushing strength the stress stays; the strain says how far past.
    shortened = np.maximum(-strain[..., 0], 0.0) / law.crushing_strain
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
