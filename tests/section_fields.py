"""Elastic strain and stress anywhere in a section under any six resultants, from its warping.

The package recovers its stress fibre by fibre (`recover_inelastic`); this is what it and the 6x6
are checked against.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from limbfe.fem.element import quad9, triangle6
from limbfe.frames import Array, stress_rotation
from limbfe.section.kinematics import (
    AXIAL_VOIGT,
    reference_rule,
)
from limbfe.section.stiffness import SectionStiffness
from limbfe.section.yielding.inelastic import RecoveredField

_GAUSS = float(np.sqrt(0.6))
# Share of the area scale at an element's middle below which its map counts as singular.
_WEAK = 0.1


_NEWTON_STEPS = 15
# A node box is stretched by this share of its size, because a curved edge can bulge out of it.
_BULGE = 0.15
_FURTHEST = 1.5  # reference coordinates a search may reach


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


def locate(
    nodes: Array, elements: NDArray[np.int64], points: Array
) -> tuple[NDArray[np.int64], Array]:
    """Return for each point its element and its reference coordinates there.

    Parameters
    ----------
    nodes : ndarray, shape (n, 2)
    elements : ndarray of int, shape (m, k)
    points : ndarray, shape (p, 2)

    Returns
    -------
    element : ndarray of int, shape (p,)
    reference : ndarray, shape (p, 2)
        A point outside the mesh gets the element it is least outside of.
    """
    corners = nodes[elements]
    point, element = _candidates(corners, points)
    reference, miss = _invert(corners[element], points[point])
    # A search that did not arrive counts as far outside as it missed.
    outside = _outside(reference, elements.shape[1]) + miss
    order = np.lexsort((outside, point))
    first = order[np.searchsorted(point[order], np.arange(len(points)))]
    return element[first], reference[first]


def _candidates(corners: Array, points: Array) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return (point, element) pairs to try; every point gets at least one."""
    low, high = corners.min(axis=1), corners.max(axis=1)
    reach = _BULGE * (high - low).max(axis=1, keepdims=True)
    inside = np.ones((len(points), len(corners)), dtype=np.bool_)
    gap = np.zeros(inside.shape)
    for axis in range(2):
        x = points[:, axis, None]
        below, above = low[:, axis] - x, x - high[:, axis]
        inside &= (below <= reach[:, 0]) & (above <= reach[:, 0])
        gap += np.maximum(np.maximum(below, above), 0.0) ** 2
    lost = np.flatnonzero(~inside.any(axis=1))
    inside[lost, gap[lost].argmin(axis=1)] = True
    point, element = np.nonzero(inside)
    return point, element


def _invert(corners: Array, points: Array) -> tuple[Array, Array]:
    """Return reference coordinates, and by how much the search missed in the same measure."""
    square = corners.shape[1] == 9
    shape = quad9 if square else triangle6
    reference = np.full((len(points), 2), 0.0 if square else 1.0 / 3.0)
    for _ in range(_NEWTON_STEPS):
        values, gradients = shape(reference)
        gap = points - np.einsum("pk,pkd->pd", values, corners)
        jacobian = np.einsum("pkr,pkd->pdr", gradients, corners)
        step = _solve_2x2(jacobian, gap)
        reference = np.clip(reference + step, -_FURTHEST, _FURTHEST)
    miss: Array = np.abs(step).max(axis=1)
    return reference, miss


def _solve_2x2(matrix: Array, right: Array) -> Array:
    a, b, c, d = matrix[:, 0, 0], matrix[:, 0, 1], matrix[:, 1, 0], matrix[:, 1, 1]
    determinant = a * d - b * c
    # Outside a distorted element the map can lose its slope: step on, at most one element.
    tiny = 1e-9 * (a * a + b * b + c * c + d * d)
    determinant = np.where(np.abs(determinant) < tiny, tiny, determinant)
    x = (d * right[:, 0] - b * right[:, 1]) / determinant
    y = (a * right[:, 1] - c * right[:, 0]) / determinant
    return np.clip(np.stack([x, y], axis=1), -1.0, 1.0)


def _outside(reference: Array, nodes_per_element: int) -> Array:
    r, s = reference[:, 0], reference[:, 1]
    if nodes_per_element == 9:
        beyond = np.maximum(np.abs(r), np.abs(s)) - 1.0
    else:
        beyond = np.maximum(np.maximum(-r, -s), r + s - 1.0)
    return np.maximum(beyond, 0.0)


def physical_gradients(positions: Array, gradients: Array) -> tuple[Array, Array]:
    """Return shape gradients in (y, z) and Jacobian determinants.

    Parameters
    ----------
    positions : ndarray, shape (..., k, 2), m
        Node positions of each element.
    gradients : ndarray, shape (q, 2, k)
        With respect to the reference coordinates.

    Returns
    -------
    physical : ndarray, shape (..., q, 2, k), 1/m
    determinant : ndarray, shape (..., q), m2
    """
    jacobian = gradients @ positions[..., None, :, :]
    return np.linalg.inv(jacobian) @ gradients, np.linalg.det(jacobian)


def plane_strain_basis(points: Array) -> Array:
    """Return the strain at points of a section that stays plane, per generalised strain.

    Parameters
    ----------
    points : ndarray, shape (..., 2), m, section axes (y, z)

    Returns
    -------
    ndarray, shape (..., 6, 6)
        ``P`` with ``strain = P @ psi`` and ``resultants = integral of P.T @ stress``.
    """
    y, z = points[..., 0], points[..., 1]
    basis = np.zeros((*y.shape, 6, 6))
    basis[..., 0, 0] = basis[..., 5, 1] = basis[..., 4, 2] = 1.0
    basis[..., 0, 4], basis[..., 0, 5] = z, -y
    basis[..., 4, 3], basis[..., 5, 3] = y, -z
    return basis


def warping_strain(gradient: Array) -> Array:
    """Return Voigt strains ``B g`` from warping gradients.

    Parameters
    ----------
    gradient : ndarray, shape (..., 2, 3, c)
        Gradients along y and z of u_x, u_y, u_z for c fields.

    Returns
    -------
    ndarray, shape (..., 6, c)
    """
    along_y, along_z = gradient[..., 0, :, :], gradient[..., 1, :, :]
    strain = np.zeros((*along_y.shape[:-2], 6, along_y.shape[-1]))
    strain[..., 1, :] = along_y[..., 1, :]
    strain[..., 2, :] = along_z[..., 2, :]
    strain[..., 3, :] = along_z[..., 1, :] + along_y[..., 2, :]
    strain[..., 4, :] = along_z[..., 0, :]
    strain[..., 5, :] = along_y[..., 0, :]
    return strain
