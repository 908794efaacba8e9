"""What the elastic fields of a section are at its integration points, compiled.

Both passes find the shape gradients of a point, use them and drop them: kept for all sections they
would fill more memory than everything else in a model.
"""

from __future__ import annotations

import numpy as np

from limbfe.compiled import compiled
from limbfe.frames import Array
from limbfe.section.kinematics import map_point, take_corners
from limbfe.section.meshing.mesh import Integers


@compiled
def fibre_rows(
    nodes: Array,
    elements: Integers,
    values: Array,
    gradients: Array,
    warping: Array,
    warping_slope: Array,
    plane_strain: Array,
    loads: Array,
    grain: Array,
    points: Array,
    scale: Array,
    rows: Array,
) -> None:
    """Write the strain along the grain per generalised strain at every integration point.

    Parameters
    ----------
    nodes : ndarray, shape (S, n, 2)
    elements : ndarray of int, shape (m, k)
    values, gradients : ndarray, shapes (q, k), (q, 2, k)
        See `limbfe.section.kinematics.reference_rule`.
    warping, warping_slope, plane_strain
        See `limbfe.section.stiffness.SectionStiffness`.
    loads : ndarray, shape (S, 6, 6)
        Resultants per generalised strain.
    grain : ndarray, shape (S, m, q, 3)
    points, scale, rows : ndarray, shapes (S, m, q, 2), (S, m, q), (S, m, q, 6)
        Written: place, area per area of the reference element, and the strain.
    """
    (m, k), corners = elements.shape, np.empty((elements.shape[1], 2))
    physical, unit, plane = np.empty((2, k)), np.empty(6), np.empty(6)
    for s in range(len(nodes)):
        for e in range(m):
            take_corners(nodes[s], elements[e], corners)
            for q in range(len(values)):
                scale[s, e, q] = map_point(corners, gradients[q], physical)
                n, y, z = grain[s, e, q], 0.0, 0.0
                for j in range(6):
                    unit[j] = 0.0
                for a in range(k):
                    y += values[q, a] * corners[a, 0]
                    z += values[q, a] * corners[a, 1]
                    across = n[1] * physical[0, a] + n[2] * physical[1, a]
                    along = n[0] * values[q, a]
                    warp = warping[s, elements[e, a]]
                    slope = warping_slope[s, elements[e, a]]
                    for i in range(3):
                        for j in range(6):
                            unit[j] += n[i] * (across * warp[i, j] + along * slope[i, j])
                points[s, e, q, 0], points[s, e, q, 1] = y, z
                plane[0], plane[1], plane[2] = n[0] * n[0], n[0] * n[1], n[0] * n[2]
                plane[3] = plane[2] * y - plane[1] * z
                plane[4], plane[5] = plane[0] * z, -plane[0] * y
                for i in range(6):
                    for j in range(6):
                        unit[j] += plane[i] * plane_strain[s, i, j]
                row = rows[s, e, q]
                for j in range(6):
                    row[j] = 0.0
                for i in range(6):
                    for j in range(6):
                        row[j] += unit[i] * loads[s, i, j]


@compiled
def moduli_along(C: Array, grain: Array, modulus: Array) -> None:
    """Write Young's modulus along the grain of every point.

    The compliance ``a C^-1 a`` of a unit stress ``a`` along the grain, from the triangular factor
    of C alone: with ``C = L D L'`` it is the sum of ``y^2 / D`` over ``y = L^-1 a``.

    Parameters
    ----------
    C : ndarray, shape (p, 6, 6)
    grain : ndarray, shape (p, 3)
    modulus : ndarray, shape (p,)
    """
    low, pivot, y = np.empty((6, 6)), np.empty(6), np.empty(6)
    for p in range(len(C)):
        n = grain[p]
        y[0], y[1], y[2] = n[0] * n[0], n[1] * n[1], n[2] * n[2]
        y[3], y[4], y[5] = n[1] * n[2], n[0] * n[2], n[0] * n[1]
        compliance = 0.0
        for i in range(6):
            for j in range(i):
                value = C[p, i, j]
                for r in range(j):
                    value -= low[i, r] * pivot[r] * low[j, r]
                low[i, j] = value / pivot[j]
            value = C[p, i, i]
            for j in range(i):
                value -= low[i, j] * low[i, j] * pivot[j]
                y[i] -= low[i, j] * y[j]
            pivot[i] = value
            compliance += y[i] * y[i] / value
        modulus[p] = 1.0 / compliance


@compiled
def recover_points(
    nodes: Array,
    elements: Integers,
    values: Array,
    gradients: Array,
    warping: Array,
    warping_slope: Array,
    plane_strain: Array,
    C: Array,
    grain: Array,
    modulus: Array,
    plastic: Array,
    strain: Array,
    stress: Array,
) -> None:
    """Write the strain and stress (S, m, q, 6) of one loading at every point.

    Parameters
    ----------
    nodes, elements, values, gradients
        As in `fibre_rows`.
    warping, warping_slope, plane_strain : ndarray, shapes (S, n, 3), (S, n, 3), (S, 6)
        Of the loading.
    C : ndarray, shape (S, m, q, 6, 6)
    grain : ndarray, shape (S, m, q, 3)
    modulus, plastic : ndarray, shape (S, m, q)
        Along the grain; how far the fibre is crushed, which takes as much strain's stress.
    """
    (m, k), corners = elements.shape, np.empty((elements.shape[1], 2))
    physical, g = np.empty((2, k)), np.empty((3, 3))
    for s in range(len(nodes)):
        plane = plane_strain[s]
        for e in range(m):
            take_corners(nodes[s], elements[e], corners)
            for q in range(len(values)):
                map_point(corners, gradients[q], physical)
                y, z = 0.0, 0.0
                for i in range(3):
                    for d in range(3):
                        g[i, d] = 0.0
                for a in range(k):
                    node, value = elements[e, a], values[q, a]
                    y += value * corners[a, 0]
                    z += value * corners[a, 1]
                    for i in range(3):
                        g[i, 0] += value * warping_slope[s, node, i]
                        g[i, 1] += physical[0, a] * warping[s, node, i]
                        g[i, 2] += physical[1, a] * warping[s, node, i]
                found, pressed = strain[s, e, q], stress[s, e, q]
                found[0] = g[0, 0] + plane[0] + z * plane[4] - y * plane[5]
                found[1] = g[1, 1]
                found[2] = g[2, 2]
                found[3] = g[1, 2] + g[2, 1]
                found[4] = g[0, 2] + g[2, 0] + plane[2] + y * plane[3]
                found[5] = g[0, 1] + g[1, 0] + plane[1] - z * plane[3]
                for i in range(6):
                    value = 0.0
                    for j in range(6):
                        value += C[s, e, q, i, j] * found[j]
                    pressed[i] = value
                if plastic[s, e, q] > 0.0:
                    n, lost = grain[s, e, q], modulus[s, e, q] * plastic[s, e, q]
                    for i in range(3):
                        pressed[i] += lost * n[i] * n[i]
                    pressed[3] += lost * n[1] * n[2]
                    pressed[4] += lost * n[0] * n[2]
                    pressed[5] += lost * n[0] * n[1]
