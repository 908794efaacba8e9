"""Integrals over one section: element matrices, loads, resultants, mass."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.fem.banded import BandPattern
from limbfe.frames import Array
from limbfe.section.kinematics import (
    AXIAL_VOIGT,
    GRADIENT_VOIGT,
    physical_gradients,
    plane_strain_basis,
    warping_strain,
)
from limbfe.section.mesh import SectionMesh


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionGeometry:
    """Integration geometry of one station; m elements, q points, k nodes each.

    Attributes
    ----------
    values : ndarray, shape (q, k)
    gradients : ndarray, shape (m, 2 q, k), 1/m
        Along y and z, point by point.
    weighted : ndarray, shape (m, k, 2 q), m
        The same times the point's area, transposed.
    weights : ndarray, shape (m, q), m2
    P : ndarray, shape (m, q, 6, 6)
        Strain of a section that stays plane.
    """

    values: Array
    gradients: Array
    weighted: Array
    weights: Array
    P: Array


def section_geometry(
    mesh: SectionMesh, s: int, rule: tuple[Array, Array, Array]
) -> SectionGeometry:
    """Return the geometry of station `s` for a rule from `reference_rule`."""
    weights, values, reference = rule
    positions = mesh.nodes[s][mesh.elements]
    physical, determinant = physical_gradients(positions, reference)
    m, q, _, k = physical.shape
    weights = weights * determinant
    weighted = (physical * weights[..., None, None]).reshape(m, 2 * q, k).swapaxes(1, 2)
    return SectionGeometry(
        values=values,
        gradients=physical.reshape(m, 2 * q, k),
        weighted=np.ascontiguousarray(weighted),
        weights=weights,
        P=plane_strain_basis(values @ positions),
    )


def section_mass(geometry: SectionGeometry, density: Array) -> Array:
    """Return the 6x6 mass, shape (6, 6), of densities (m, q)."""
    # A velocity field of a rigid section has the components of P's rows 11, 12, 13.
    motion = geometry.P[:, :, AXIAL_VOIGT].reshape(-1, 3, 6)
    weight = np.repeat((geometry.weights * density).ravel(), 3)[:, None]
    flat = motion.reshape(-1, 6)
    mass: Array = flat.T @ (weight * flat)
    return mass


def element_matrices(geometry: SectionGeometry, C: Array, pattern: BandPattern) -> Array:
    """Return the kept lower-triangle entries of every element's ``E``, shape (m, p)."""
    m, q = geometry.weights.shape
    k = geometry.values.shape[1]
    row, column = GRADIENT_VOIGT.T[:, :, None, None], GRADIENT_VOIGT
    moduli = C[:, :, row, column].reshape(m, q, 18, 2)
    half = moduli @ geometry.gradients.reshape(m, q, 2, k)
    full = geometry.weighted @ half.reshape(m, 2 * q, 9 * k)
    a, i = np.divmod(pattern.pairs[0], 3)
    b, j = np.divmod(pattern.pairs[1], 3)
    lower: Array = full.reshape(m, -1)[:, ((a * 3 + i) * 3 + j) * k + b]
    return lower


def gradient_strain(geometry: SectionGeometry, warping: Array) -> Array:
    """Return ``B g``, shape (m, q, 6, c), of element warpings of shape (m, 3k, c)."""
    m, q = geometry.weights.shape
    k = geometry.values.shape[1]
    gradient = geometry.gradients @ warping.reshape(m, k, -1)
    return warping_strain(gradient.reshape(m, q, 2, 3, -1))


def slope_strain(geometry: SectionGeometry, slope: Array) -> Array:
    """Return ``S N dg/dx``, shape (m, q, 6, c)."""
    m, q = geometry.weights.shape
    k = geometry.values.shape[1]
    strain = np.zeros((m, q, 6, slope.shape[-1]))
    values = geometry.values @ slope.reshape(m, k, -1)
    strain[:, :, AXIAL_VOIGT] = values.reshape(m, q, 3, -1)
    return strain


def gradient_load(geometry: SectionGeometry, stress: Array, pattern: BandPattern) -> Array:
    """Return the integral of ``B' stress``, shape (size, c)."""
    m, q = geometry.weights.shape
    rows = stress[:, :, GRADIENT_VOIGT.T]
    load = geometry.weighted @ rows.reshape(m, 2 * q, -1)
    return _scatter(load, pattern, stress.shape[-1])


def traction_load(geometry: SectionGeometry, stress: Array, pattern: BandPattern) -> Array:
    """Return the integral of ``N' S' stress``, shape (size, c)."""
    m, q = geometry.weights.shape
    rows = stress[:, :, AXIAL_VOIGT] * geometry.weights[..., None, None]
    load = geometry.values.T @ rows.reshape(m, q, -1)
    return _scatter(load, pattern, stress.shape[-1])


def _scatter(load: Array, pattern: BandPattern, columns: int) -> Array:
    load = load.reshape(-1, columns)
    flat = pattern.dofs.ravel()
    total = [np.bincount(flat, weights=column, minlength=pattern.size) for column in load.T]
    return np.stack(total, axis=1)


def field_resultants(geometry: SectionGeometry, stress: Array) -> Array:
    """Return the six resultants of stress fields, shape (6, c)."""
    weighted = (stress * geometry.weights[..., None, None]).reshape(-1, stress.shape[-1])
    total: Array = geometry.P.reshape(-1, 6).T @ weighted
    return total
