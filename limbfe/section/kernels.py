"""The compiled loops over a section's integration points."""

from __future__ import annotations

import numpy as np

from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array
from limbfe.section.condensation import condense
from limbfe.section.kinematics import ALONG_Y, ALONG_Z, AXIAL_VOIGT, map_point, take_corners
from limbfe.section.unknowns import Integers

SOUND, NOT_FINITE, NEGATIVE, NOT_SYMMETRIC, NOT_DEFINITE = range(5)
"""What `integrate_wood` finds a section's wood to be."""

_AXIAL = tuple(int(v) for v in AXIAL_VOIGT)
_ASYMMETRY = 1e-9


@compiled
def integrate_wood(
    nodes: Array,
    elements: Integers,
    reference: Array,
    points: Array,
    weights: Array,
    C: Array,
    dofs: Integers,
    kept: int,
    packing: Integers,
    gradients: Array,
    lower: Array,
    load: Array,
    plane: Array,
) -> int:
    """Fill `gradients` and `lower`, add to `load` and `plane`, and return the state of the wood."""
    m, q, _, k = gradients.shape
    corners, full = np.empty((k, 2)), np.empty((3 * k, 3 * k))
    flat = full.reshape(-1)
    own, stress = np.empty((6, 3 * k)), np.empty((6, 6))
    largest, asymmetry, finite, positive, definite = 0.0, 0.0, True, True, True
    for e in range(m):
        full[:] = 0.0
        own[:] = 0.0
        take_corners(nodes, elements[e], corners)
        for p in range(q):
            map_point(corners, reference[p], gradients[e, p])
            c, area, y, z = C[e, p], weights[e, p], points[e, p, 0], points[e, p, 1]
            scale, skew = 0.0, 0.0
            for i in range(6):
                scale += abs(c[i, i])
                positive &= c[i, i] >= 0.0
                for j in range(i):
                    skew += abs(c[i, j] - c[j, i])
            largest, asymmetry = max(largest, scale), max(asymmetry, skew)
            finite &= scale + skew < np.inf
            _add_stiffness(c, area, gradients[e, p], full)
            _plane_stress(c, area, y, z, stress)
            _add_resultants(stress, y, z, plane)
            _add_gradient_loads(stress, gradients[e, p], own)
        _scatter(own, dofs[e], load)
        for entry in range(len(packing)):
            lower[e, entry] = flat[packing[entry]]
        definite &= condense(lower[e], kept, 3 * k)
    if not finite:
        return NOT_FINITE
    if not positive:
        return NEGATIVE
    if asymmetry > _ASYMMETRY * largest:
        return NOT_SYMMETRIC
    return SOUND if definite else NOT_DEFINITE


@compiled_inside
def _add_stiffness(c: Array, area: float, gradient: Array, full: Array) -> None:
    """Add ``B'CB`` of one point to `full`, component by component: lower blocks only."""
    k = gradient.shape[1]
    for a in range(k):
        along_y, along_z = area * gradient[0, a], area * gradient[1, a]
        for i in range(3):
            row = full[i * k + a]
            for j in range(i + 1):
                by_y = along_y * c[ALONG_Y[i], ALONG_Y[j]] + along_z * c[ALONG_Z[i], ALONG_Y[j]]
                by_z = along_y * c[ALONG_Y[i], ALONG_Z[j]] + along_z * c[ALONG_Z[i], ALONG_Z[j]]
                for b in range(k):
                    row[j * k + b] += by_y * gradient[0, b] + by_z * gradient[1, b]


@compiled_inside
def _plane_stress(c: Array, area: float, y: float, z: float, stress: Array) -> None:
    """Write ``C P`` of one point times its area, one row for every generalised strain."""
    for v in range(6):
        axial, shear_y, shear_z = area * c[v, 0], area * c[v, 5], area * c[v, 4]
        stress[0, v], stress[1, v], stress[2, v] = axial, shear_y, shear_z
        stress[3, v] = y * shear_z - z * shear_y
        stress[4, v], stress[5, v] = z * axial, -y * axial


@compiled_inside
def _add_resultants(stress: Array, y: float, z: float, resultants: Array) -> None:
    """Add ``P' stress`` of one point, one row for every stress field."""
    for f in range(len(stress)):
        axial, shear_y, shear_z = stress[f, 0], stress[f, 5], stress[f, 4]
        resultants[f, 0] += axial
        resultants[f, 1] += shear_y
        resultants[f, 2] += shear_z
        resultants[f, 3] += y * shear_z - z * shear_y
        resultants[f, 4] += z * axial
        resultants[f, 5] -= y * axial


@compiled_inside
def _add_gradient_loads(stress: Array, gradient: Array, loads: Array) -> None:
    """Add ``B' stress`` of one point to an element's loads, component by component."""
    k = gradient.shape[1]
    for f in range(len(stress)):
        for i in range(3):
            by_y, by_z = stress[f, ALONG_Y[i]], stress[f, ALONG_Z[i]]
            for n in range(k):
                loads[f, i * k + n] += by_y * gradient[0, n] + by_z * gradient[1, n]


@compiled
def _scatter(own: Array, dofs: Integers, loads: Array) -> None:
    """Add an element's loads, component by component, to the section's."""
    k = own.shape[1] // 3
    for f in range(len(own)):
        for i in range(3):
            for n in range(k):
                loads[f, dofs[3 * n + i]] += own[f, i * k + n]


@compiled
def integrate_slope(
    values: Array,
    gradients: Array,
    points: Array,
    weights: Array,
    C: Array,
    dofs: Integers,
    uniform: Array,
    slope: Array,
    gradient_load: Array,
    traction_load: Array,
    force: Array,
    cross: Array,
    work: Array,
) -> None:
    """Add to the last five arrays, which `SlopeIntegrals` describes."""
    m, q, _, k = gradients.shape
    # Fields of u_x, u_y, u_z: three rows of four each, run through in one go.
    nodal, value, along = np.empty((k, 12)), np.empty(12), np.empty((2, 12))
    strain, traction = np.empty((6, 4)), np.empty((3, 4))
    rate, stress, change = np.empty((2, 3)), np.empty((2, 6)), np.empty((2, 3))
    own_gradient, own_traction = np.empty((2, 3 * k)), np.empty((2, 3 * k))
    for e in range(m):
        own_gradient[:] = 0.0
        own_traction[:] = 0.0
        for n in range(k):
            for i in range(3):
                for f in range(4):
                    nodal[n, 4 * i + f] = uniform[f, dofs[e, 3 * n + i]]
        for p in range(q):
            c, area, y, z = C[e, p], weights[e, p], points[e, p, 0], points[e, p, 1]
            gradient = gradients[e, p]
            value[:] = 0.0
            along[:] = 0.0
            for n in range(k):
                for t in range(12):
                    value[t] += values[p, n] * nodal[n, t]
                    along[0, t] += gradient[0, n] * nodal[n, t]
                    along[1, t] += gradient[1, n] * nodal[n, t]
            _uniform_strain(along, y, z, strain)
            for i in range(3):
                traction[i, :] = 0.0
                for v in range(6):
                    modulus = area * c[_AXIAL[i], v]
                    for f in range(4):
                        traction[i, f] += modulus * strain[v, f]
            for s in range(2):
                stress[s, :] = 0.0
                for i in range(3):
                    rate[s, i] = change[s, i] = 0.0
                    for f in range(4):
                        rate[s, i] += value[4 * i + f] * slope[f, s]
                        change[s, i] += traction[i, f] * slope[f, s]
                    for f in range(4):
                        cross[f, s] += traction[i, f] * rate[s, i]
                    for v in range(6):
                        stress[s, v] += area * c[_AXIAL[i], v] * rate[s, i]
                    for n in range(k):
                        own_traction[s, i * k + n] += values[p, n] * change[s, i]
            _add_gradient_loads(stress, gradient, own_gradient)
            _add_resultants(stress, y, z, force)
            for s in range(2):
                for t in range(2):
                    for i in range(3):
                        work[s, t] += rate[s, i] * stress[t, _AXIAL[i]]
        _scatter(own_gradient, dofs[e], gradient_load)
        _scatter(own_traction, dofs[e], traction_load)


@compiled_inside
def _uniform_strain(along: Array, y: float, z: float, strain: Array) -> None:
    """Write the strain of uniform stretch, twist and bending, warping included."""
    for f in range(4):
        strain[0, f] = 0.0
        strain[1, f] = along[0, 4 + f]
        strain[2, f] = along[1, 8 + f]
        strain[3, f] = along[1, 4 + f] + along[0, 8 + f]
        strain[4, f] = along[1, f]
        strain[5, f] = along[0, f]
    strain[0, 0], strain[0, 2], strain[0, 3] = 1.0, z, -y
    strain[4, 1] += y
    strain[5, 1] -= z
