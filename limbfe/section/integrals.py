"""Integrals over one section: stiffness, loads and forces of its warping, in two compiled passes.

The first pass needs the wood alone.  The second follows once the warping of uniform stretch, twist
and bending is known and finds what that warping does when shear makes it change along the limb.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.compiled import as_read
from limbfe.frames import Array
from limbfe.section.kernels import integrate_slope, integrate_wood
from limbfe.section.unknowns import Integers, Unknowns


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionGeometry:
    """Where one station is integrated; m elements, q points, k nodes each.

    Attributes
    ----------
    nodes : ndarray, shape (n, 2), m
    elements : ndarray of int, shape (m, k)
    values, reference : ndarray, shapes (q, k), (q, 2, k)
        Shape functions and their gradients in the element's own coordinates.
    points : ndarray, shape (m, q, 2), m
    weights : ndarray, shape (m, q), m2
    """

    nodes: Array
    elements: Integers
    values: Array
    reference: Array
    points: Array
    weights: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionIntegrals:
    """What the wood of one section gives; n unknowns.

    Attributes
    ----------
    state : int
        `limbfe.section.kernels.SOUND`, or why the rest is of no use.
    gradients : ndarray, shape (m, q, 2, k), 1/m
        Of the shape functions along y and z.
    lower : ndarray, shape (m, p)
        Element matrices of ``B'CB`` as `limbfe.section.condensation.condense` leaves them.
    load : ndarray, shape (6, n)
        ``B'CP`` for every generalised strain.
    plane : ndarray, shape (6, 6)
        ``P'CP``: the stiffness if the section stayed plane.
    """

    state: int
    gradients: Array
    lower: Array
    load: Array
    plane: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SlopeIntegrals:
    """What a warping ``V`` that changes along the limb does; c = 2 shears.

    Attributes
    ----------
    gradient : ndarray, shape (c, n)
        ``B'CSN V``: forces on the warping from the strain that the change itself is.
    traction : ndarray, shape (c, n)
        ``N'S' stress``: forces on the warping from stress that changes along the limb.
    force : ndarray, shape (c, 6)
        ``P'CSN V``: resultants of that strain.
    cross : ndarray, shape (4, c)
        Mutual energy of uniform stress and that strain.
    work : ndarray, shape (c, c)
        Energy of that strain.
    """

    gradient: Array
    traction: Array
    force: Array
    cross: Array
    work: Array


def section_mass(points: Array, weights: Array, density: Array) -> Array:
    """Return the 6x6 mass of S sections, shape (S, 6, 6).

    Parameters
    ----------
    points : ndarray, shape (S, m, q, 2), m
    weights : ndarray, shape (S, m, q), m2
    density : ndarray, shape (S, m, q), kg/m3
    """
    share = weights * density
    y, z = points[..., 0], points[..., 1]
    axes = (1, 2)
    mass = np.zeros((len(points), 6, 6))
    mass[:, 0, 0] = mass[:, 1, 1] = mass[:, 2, 2] = share.sum(axes)
    about_y, about_z = share * y, share * z
    mass[:, 2, 3], mass[:, 0, 5] = about_y.sum(axes), -about_y.sum(axes)
    mass[:, 0, 4], mass[:, 1, 3] = about_z.sum(axes), -about_z.sum(axes)
    mass[:, 4, 4], mass[:, 5, 5] = (about_z * z).sum(axes), (about_y * y).sum(axes)
    mass[:, 3, 3] = mass[:, 4, 4] + mass[:, 5, 5]
    mass[:, 4, 5] = -(about_y * z).sum(axes)
    upper = np.triu(mass, 1)
    return mass + upper.swapaxes(1, 2)


def section_integrals(geometry: SectionGeometry, C: Array, unknowns: Unknowns) -> SectionIntegrals:
    """Return the integrals over one section of wood `C`, shape (m, q, 6, 6)."""
    m, size = unknowns.dofs.shape
    q, _, k = geometry.reference.shape
    gradients, lower = np.empty((m, q, 2, k)), np.empty((m, size * (size + 1) // 2))
    load, plane = np.zeros((6, unknowns.count)), np.zeros((6, 6))
    state = integrate_wood(
        as_read(geometry.nodes), geometry.elements, as_read(geometry.reference),
        as_read(geometry.points), as_read(geometry.weights), as_read(C),
        unknowns.dofs, unknowns.kept, unknowns.packing, gradients, lower, load, plane,
    )  # fmt: skip
    return SectionIntegrals(state=state, gradients=gradients, lower=lower, load=load, plane=plane)


def slope_integrals(
    geometry: SectionGeometry,
    gradients: Array,
    C: Array,
    unknowns: Unknowns,
    uniform: Array,
    slope: Array,
) -> SlopeIntegrals:
    """Return the integrals of a changing warping.

    Parameters
    ----------
    geometry : SectionGeometry
    gradients : ndarray, shape (m, q, 2, k)
        From `section_integrals`.
    C : ndarray, shape (m, q, 6, 6)
    uniform : ndarray, shape (4, n)
        Warping of uniform stretch, twist and bending.
    slope : ndarray, shape (4, 2)
        How these four change along the limb under each shear.
    """
    gradient, traction = np.zeros((2, unknowns.count)), np.zeros((2, unknowns.count))
    force, cross, work = np.zeros((2, 6)), np.zeros((4, 2)), np.zeros((2, 2))
    integrate_slope(
        as_read(geometry.values), gradients,
        as_read(geometry.points), as_read(geometry.weights), as_read(C),
        unknowns.dofs, as_read(uniform), as_read(slope), gradient, traction, force, cross, work,
    )  # fmt: skip
    return SlopeIntegrals(gradient=gradient, traction=traction, force=force, cross=cross, work=work)
