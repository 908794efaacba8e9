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

from limbfe.compiled import compiled_inside
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


@compiled_inside
def take_corners(nodes: Array, element: NDArray[np.int64], corners: Array) -> None:
    """Write the places (k, 2) of an element's nodes."""
    for a in range(len(element)):
        corners[a, 0], corners[a, 1] = nodes[element[a], 0], nodes[element[a], 1]


@compiled_inside
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
