"""The beam element in compiled code: strains, nodal forces and their exact derivative."""

from __future__ import annotations

import numpy as np

from limbfe.beam.limbs.motion import tangent_derivatives, tangent_operators, twist_between
from limbfe.compiled import compiled
from limbfe.frames import Array


@compiled
def resultants(
    rotations: Array,
    positions: Array,
    stiffness: Array,
    offset: Array,
    length: Array,
    twist: Array,
    force: Array,
) -> None:
    """Write every element's twist (m, 6) and mean resultant (m, 6).

    The resultant is ``stiffness @ (twist / length) + offset`` with `offset` (m, 6) carrying the
    rest strain (and any inelastic part), so one affine law serves all.
    """
    for e in range(len(length)):
        twist_between(rotations[e], positions[e], rotations[e + 1], positions[e + 1], twist[e])
        for i in range(6):
            value = offset[e, i]
            for j in range(6):
                value += stiffness[e, i, j] * twist[e, j] / length[e]
            force[e, i] = value


@compiled
def assemble(
    rotations: Array,
    positions: Array,
    stiffness: Array,
    offset: Array,
    length: Array,
    first: int,
    last: int,
    diag: Array,
    off: Array,
    gradient: Array,
) -> None:
    """Add elements `first` to `last` - 1: energy gradient and exact Hessian in body increments.

    Parameters
    ----------
    rotations, positions : ndarray, shapes (n, 3, 3), (n, 3)
    stiffness, offset, length : ndarray, shapes (m, 6, 6), (m, 6), (m,)
        As in `resultants`.
    diag : ndarray, shape (n, 6, 6)
        Derivative of each node's force by its own increment is added (not symmetric away from
        equilibrium: its skew part is half the coadjoint action of the nodal force).
    off : ndarray, shape (m, 6, 6)
        Written: derivative of the force at node e by the increment of node e + 1; the
        transpose is the derivative the other way round.
    gradient : ndarray, shape (n, 6)
        Internal force of each node, body axes, is added.
    """
    d, s = np.empty(6), np.empty(6)
    p, q = np.empty((6, 6)), np.empty((6, 6))
    y1, y2 = np.empty((6, 6)), np.empty((6, 6))
    for e in range(first, last):
        twist_between(rotations[e], positions[e], rotations[e + 1], positions[e + 1], d)
        inverse_length = 1.0 / length[e]
        k = stiffness[e]
        for i in range(6):
            value = 0.0
            for j in range(6):
                value += k[i, j] * d[j]
            s[i] = value * inverse_length + offset[e, i]
        tangent_operators(d, p, q)
        tangent_derivatives(d, s, y2, y1)
        g1, g2 = gradient[e], gradient[e + 1]
        for i in range(6):
            f1, f2 = 0.0, 0.0
            for j in range(6):
                f1 += q[j, i] * s[j]
                f2 += p[j, i] * s[j]
            g1[i] -= f1
            g2[i] += f2
        # y2 = P^T K/L + d(P^T s)/dd,  y1 = Q^T K/L + d(Q^T s)/dd
        for i in range(6):
            for a in range(6):
                pa, qa = p[a, i] * inverse_length, q[a, i] * inverse_length
                for j in range(6):
                    y2[i, j] += pa * k[a, j]
                    y1[i, j] += qa * k[a, j]
        d1, d2, o = diag[e], diag[e + 1], off[e]
        for i in range(6):
            for j in range(6):
                o[i, j] = 0.0
            for a in range(6):
                u1, u2 = y1[i, a], y2[i, a]
                for j in range(6):
                    d1[i, j] += u1 * q[a, j]
                    d2[i, j] += u2 * p[a, j]
                    o[i, j] -= u1 * p[a, j]
