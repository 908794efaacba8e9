"""Strains of a cross-section: how warping and generalised strains make Voigt strains.

A point of the section moves with the section (six generalised strains ``psi``) and warps by
``N g`` on top, in its plane and out of it.  Its strain is

    strain = B g + P psi + S N dg/dx

with ``B`` the in-plane gradients, ``P(y, z)`` the strain of a section that stays plane and
``S N dg/dx`` the strain of a warping that changes along the limb.

References
----------
V. Giavotto, M. Borri, P. Mantegazza, G. Ghiringhelli, V. Carmaschi, G. C. Maffioli, F. Mussi,
Anisotropic beam theory and applications, Computers & Structures 16 (1983), 403-413 (from
memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from limbfe.fem.compiled import as_read, compiled
from limbfe.fem.element import quad9, triangle6
from limbfe.fem.quadrature import square_rule, triangle_rule
from limbfe.frames import Array

CLASSICAL = np.array([0, 3, 4, 5])
"""Where gamma_x, kappa_x, kappa_y, kappa_z stand; the two shears are warpings u_x = y and z."""

ALONG_Y, ALONG_Z = (5, 1, 3), (4, 3, 2)
"""Voigt index that the y gradients, and the z gradients, of u_x, u_y, u_z contribute to."""

AXIAL_VOIGT = np.array([0, 5, 4])
"""Voigt index of the tractions (and of the x gradients) of u_x, u_y, u_z on the section."""


def reference_rule(nodes_per_element: int, order: int) -> tuple[Array, Array, Array]:
    """Return weights, shape values and gradients at the integration points.

    Parameters
    ----------
    nodes_per_element : {6, 9}
    order : int
        Points per side of the square, or polynomial degree of the triangle's rule.

    Returns
    -------
    weights : ndarray, shape (q,)
    values : ndarray, shape (q, k)
    gradients : ndarray, shape (q, 2, k), with respect to the reference coordinates
    """
    if nodes_per_element == 9:
        points, weights = square_rule(order)
        values, gradients = quad9(points)
    else:
        points, weights = triangle_rule(order)
        values, gradients = triangle6(points)
    return weights, values, np.ascontiguousarray(gradients.transpose(0, 2, 1))


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
    q, _, k = gradients.shape
    outer = positions.shape[:-2]
    each = as_read(positions.reshape(-1, k, 2))
    physical, determinant = np.empty((len(each), q, 2, k)), np.empty((len(each), q))
    _map_points(each, as_read(gradients), physical, determinant)
    return physical.reshape(*outer, q, 2, k), determinant.reshape(*outer, q)


@compiled
def _map_points(positions: Array, gradients: Array, physical: Array, determinant: Array) -> None:
    for e in range(len(positions)):
        for p in range(len(gradients)):
            determinant[e, p] = map_point(positions[e], gradients[p], physical[e, p])


@compiled
def take_corners(nodes: Array, element: NDArray[np.int64], corners: Array) -> None:
    """Write the places (k, 2) of an element's nodes."""
    for a in range(len(element)):
        corners[a, 0], corners[a, 1] = nodes[element[a], 0], nodes[element[a], 1]


@compiled
def map_point(corners: Array, reference: Array, physical: Array) -> float:
    """Write the shape gradients (2, k) in y and z of a point and return its area scale.

    `corners` are the element's nodes (k, 2), `reference` the gradients (2, k) in its own
    coordinates.
    """
    yr, zr, ys, zs = 0.0, 0.0, 0.0, 0.0
    for a in range(len(corners)):
        yr += reference[0, a] * corners[a, 0]
        zr += reference[0, a] * corners[a, 1]
        ys += reference[1, a] * corners[a, 0]
        zs += reference[1, a] * corners[a, 1]
    scale = yr * zs - zr * ys
    for a in range(len(corners)):
        physical[0, a] = (zs * reference[0, a] - zr * reference[1, a]) / scale
        physical[1, a] = (yr * reference[1, a] - ys * reference[0, a]) / scale
    return scale


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
