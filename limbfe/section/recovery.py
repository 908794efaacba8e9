"""Strain and stress anywhere in a section under any six resultants."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.fem.element import quad9, triangle6
from limbfe.frames import Array, stress_rotation
from limbfe.section.kinematics import (
    AXIAL_VOIGT,
    physical_gradients,
    plane_strain_basis,
    reference_rule,
    warping_strain,
)
from limbfe.section.locate import locate
from limbfe.section.stiffness import SectionStiffness

_GAUSS = float(np.sqrt(0.6))
# Share of the area scale at an element's middle below which its map counts as singular.
_WEAK = 0.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecoveredField:
    """Strain and stress at the integration points of S sections, section axes, Voigt order.

    Attributes
    ----------
    points : ndarray, shape (S, m, q, 2), m
    strain : ndarray, shape (S, m, q, 6), engineering shears
    stress : ndarray, shape (S, m, q, 6), Pa
    """

    points: Array
    strain: Array
    stress: Array


def recover(solution: SectionStiffness, resultants: Array) -> RecoveredField:
    """Return strain and stress at every integration point.

    Parameters
    ----------
    solution : SectionStiffness
    resultants : ndarray, shape (S, 6) or (6,), N and N m
        ``[N, Vy, Vz, T, My, Mz]`` about the origin of the section axes.

    Notes
    -----
    The field is that of a long prismatic beam whose moments change along it as the shears say:
    end effects and taper are not in it.
    """
    mesh = solution.mesh
    _, values, gradients = reference_rule(mesh.elements.shape[1], mesh.order)
    positions = mesh.nodes[:, mesh.elements]
    physical, _ = physical_gradients(positions, gradients)
    warping, slope, plane = _loaded(solution, resultants)
    points = values @ positions
    warping, slope = warping[:, mesh.elements], slope[:, mesh.elements]
    strain = _strain(
        gradient=physical @ warping[:, :, None],
        rate=values @ slope,
        plane=plane[:, None, None, :],
        points=points,
    )
    stress = (solution.C @ strain[..., None])[..., 0]
    return RecoveredField(points=points, strain=strain, stress=stress)


def strain_at(solution: SectionStiffness, resultants: Array, points: Array) -> Array:
    """Return the strain at any points of every section.

    Parameters
    ----------
    solution : SectionStiffness
    resultants : ndarray, shape (S, 6) or (6,), N and N m
    points : ndarray, shape (S, p, 2), m
        Section coordinates.  A point outside the mesh takes the strain continued from the element
        it is least outside of.

    Returns
    -------
    ndarray, shape (S, p, 6), section axes
        On a boundary between elements, that of one of them.  The stress there is the wood's
        stiffness at the point times this.

    Notes
    -----
    Where the outline is smooth but the mesh has a corner, the map of the corner's element loses
    its slope and the strain its meaning; a point that close to one takes the strain at the
    nearest Gauss point of three a side.
    """
    mesh = solution.mesh
    shape = quad9 if mesh.elements.shape[1] == 9 else triangle6
    warping, slope, plane = _loaded(solution, resultants)
    strain = np.empty((*points.shape[:2], 6))
    for s in range(len(mesh.x)):
        element, reference = locate(mesh.nodes[s], mesh.elements, points[s])
        nodes = mesh.elements[element]
        reference = _off_singular_corners(mesh.nodes[s][nodes], reference)
        values, gradients = shape(reference)
        jacobian = np.einsum("pkr,pkd->prd", gradients, mesh.nodes[s][nodes])
        physical = np.linalg.solve(jacobian, gradients.transpose(0, 2, 1))
        strain[s] = _strain(
            gradient=physical @ warping[s][nodes],
            rate=np.einsum("pk,pki->pi", values, slope[s][nodes]),
            plane=plane[s],
            points=points[s],
        )
    return strain


def _off_singular_corners(corners: Array, reference: Array) -> Array:
    if corners.shape[1] != 9:
        return reference
    _, gradients = quad9(np.concatenate([reference, np.zeros((1, 2))]))
    here = np.linalg.det(np.einsum("pkr,pkd->prd", gradients[:-1], corners))
    middle = np.linalg.det(np.einsum("kr,pkd->prd", gradients[-1], corners))
    weak = here < _WEAK * middle
    return np.where(weak[:, None], np.clip(reference, -_GAUSS, _GAUSS), reference)


def to_local_axes(strain: Array, stress: Array, axes: Array) -> tuple[Array, Array]:
    """Return strain and stress in local axes, such as those of the wood (L, R, T).

    Parameters
    ----------
    strain, stress : ndarray, shape (..., 6), section axes
    axes : ndarray, shape (..., 3, 3)
        Columns are the local axes in section axes.

    Returns
    -------
    strain, stress : ndarray, shape (..., 6), local axes
    """
    to_section = stress_rotation(axes)
    to_local = stress_rotation(np.swapaxes(axes, -1, -2))
    local_strain = np.swapaxes(to_section, -1, -2) @ strain[..., None]
    return local_strain[..., 0], (to_local @ stress[..., None])[..., 0]


def resultants_of(mesh_points: Array, weights: Array, stress: Array) -> Array:
    """Return the six resultants of a stress field.

    Parameters
    ----------
    mesh_points : ndarray, shape (S, m, q, 2), m
    weights : ndarray, shape (S, m, q), m2
    stress : ndarray, shape (S, m, q, 6), Pa

    Returns
    -------
    ndarray, shape (S, 6), N and N m
    """
    traction = stress[..., AXIAL_VOIGT] * weights[..., None]
    force = traction.sum(axis=(1, 2))
    y, z = mesh_points[..., 0], mesh_points[..., 1]
    torque = (y * traction[..., 2] - z * traction[..., 1]).sum(axis=(1, 2))
    bend_y = (z * traction[..., 0]).sum(axis=(1, 2))
    bend_z = -(y * traction[..., 0]).sum(axis=(1, 2))
    return np.column_stack([force, torque, bend_y, bend_z])


def _loaded(solution: SectionStiffness, resultants: Array) -> tuple[Array, Array, Array]:
    """Return nodal warping and its slope, shape (S, n, 3), and plane strains, shape (S, 6)."""
    load = np.broadcast_to(resultants, (len(solution.K), 6))[:, :, None]
    warping = (solution.warping @ load[:, None])[..., 0]
    slope = (solution.warping_slope @ load[:, None])[..., 0]
    return warping, slope, (solution.plane_strain @ load)[..., 0]


def _strain(*, gradient: Array, rate: Array, plane: Array, points: Array) -> Array:
    """Add the three parts of the strain: gradient (..., 2, 3), rate (..., 3), plane (..., 6)."""
    strain = warping_strain(gradient[..., None])[..., 0]
    strain[..., AXIAL_VOIGT] += rate
    strain += (plane_strain_basis(points) @ plane[..., None])[..., 0]
    return strain
