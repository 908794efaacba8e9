"""Rigid motions in compiled code: exponential, logarithm and the tangent of the logarithm.

A motion is a rotation matrix and a position; its twist is ``d = (rho, theta)``, translation
first, measured in the moving frame, so that ``d / length`` is the beam strain
``[gamma_x + 1, gamma_y, gamma_z, kappa_x, kappa_y, kappa_z]`` of a helicoidal element.

With ``R1^T (.) R2`` the motion from node 1 to node 2 and body increments ``delta`` of both
nodes, ``d' = P delta_2 - Q delta_1`` where ``P = E + ad(d)/2``, ``Q = E - ad(d)/2`` and
``E = I + ad(d)^2/12 - ad(d)^4/720 + ...`` is the even part of the inverse tangent operator.  In
3x3 blocks ``E = [[E3, X], [0, E3]]`` with ``E3 = I + eta [theta]^2`` and X its derivative along
rho.

References
----------
V. Sonneville, A. Cardona, O. Bruls, Geometrically exact beam finite element formulated on the
special Euclidean group SE(3), Comput. Methods Appl. Mech. Engng 268 (2014), 451-474 (the
formulation; from memory).  The closed forms below are derived from the series and tested
against finite differences.
"""

from __future__ import annotations

import math

import numpy as np

from limbfe.compiled import compiled, compiled_inside
from limbfe.frames import Array


@compiled
def series(square: float) -> tuple[float, float, float]:
    """Return eta(phi^2) = (1 - (phi/2) cot(phi/2))/phi^2 and its first two derivatives.

    Derivatives are with respect to phi^2.  Small angles use the Taylor series, whose
    coefficients are ``|B_2k|/(2k)!`` (Bernoulli numbers).
    """
    if square < 0.5:
        s = square
        a1, a2, a3, a4 = 1.0 / 720.0, 1.0 / 30240.0, 1.0 / 1209600.0, 1.0 / 47900160.0
        a5, a6, a7 = 691.0 / 1307674368000.0, 1.0 / 74724249600.0, 3617.0 / 10670622842880000.0
        value = 1.0 / 12.0 + s * (
            a1 + s * (a2 + s * (a3 + s * (a4 + s * (a5 + s * (a6 + s * a7)))))
        )
        first = a1 + s * (
            2.0 * a2
            + s * (3.0 * a3 + s * (4.0 * a4 + s * (5.0 * a5 + s * (6.0 * a6 + s * 7.0 * a7))))
        )
        second = 2.0 * a2 + s * (
            6.0 * a3 + s * (12.0 * a4 + s * (20.0 * a5 + s * (30.0 * a6 + s * 42.0 * a7)))
        )
        return value, first, second
    phi = math.sqrt(square)
    sine, cosine = math.sin(0.5 * phi), math.cos(0.5 * phi)
    f = 0.5 * phi * cosine / sine
    df = 0.5 * cosine / sine - 0.25 * phi / sine**2
    ddf = -0.5 / sine**2 + 0.25 * phi * cosine / sine**3
    value = (1.0 - f) / square
    first = -0.5 * df / (phi * square) - value / square
    second = (-0.5 * ddf / phi**3 + 1.5 * df / phi**4 + 2.0 * value / phi**3) / (
        2.0 * phi
    ) - first / square
    return value, first, second


@compiled
def move(rotation: Array, position: Array, delta: Array) -> None:
    """Apply the body increment ``delta`` (translation, rotation) to one frame, in place."""
    v0, v1, v2, w0, w1, w2 = delta[0], delta[1], delta[2], delta[3], delta[4], delta[5]
    square = w0 * w0 + w1 * w1 + w2 * w2
    if square < 1e-6:
        a = 1.0 - square / 6.0 * (1.0 - square / 20.0)
        b = 0.5 - square / 24.0 * (1.0 - square / 30.0)
        c = 1.0 / 6.0 - square / 120.0 * (1.0 - square / 42.0)
    else:
        phi = math.sqrt(square)
        a = math.sin(phi) / phi
        b = 2.0 * math.sin(0.5 * phi) ** 2 / square
        c = (1.0 - a) / square
    # cross products w x v and w x (w x v)
    c0, c1, c2 = w1 * v2 - w2 * v1, w2 * v0 - w0 * v2, w0 * v1 - w1 * v0
    dot = w0 * v0 + w1 * v1 + w2 * v2
    t0 = v0 + b * c0 + c * (w0 * dot - square * v0)
    t1 = v1 + b * c1 + c * (w1 * dot - square * v1)
    t2 = v2 + b * c2 + c * (w2 * dot - square * v2)
    e00 = 1.0 - b * (w1 * w1 + w2 * w2)
    e11 = 1.0 - b * (w0 * w0 + w2 * w2)
    e22 = 1.0 - b * (w0 * w0 + w1 * w1)
    e01, e10 = b * w0 * w1 - a * w2, b * w0 * w1 + a * w2
    e02, e20 = b * w0 * w2 + a * w1, b * w0 * w2 - a * w1
    e12, e21 = b * w1 * w2 - a * w0, b * w1 * w2 + a * w0
    for i in range(3):
        r0, r1, r2 = rotation[i, 0], rotation[i, 1], rotation[i, 2]
        position[i] += r0 * t0 + r1 * t1 + r2 * t2
        rotation[i, 0] = r0 * e00 + r1 * e10 + r2 * e20
        rotation[i, 1] = r0 * e01 + r1 * e11 + r2 * e21
        rotation[i, 2] = r0 * e02 + r1 * e12 + r2 * e22


@compiled_inside
def _dot(a: Array, i: int, b: Array, j: int) -> float:
    """Return the product of a column of one rotation with a column of another."""
    out: float = a[0, i] * b[0, j] + a[1, i] * b[1, j] + a[2, i] * b[2, j]
    return out


@compiled
def twist_between(r1: Array, x1: Array, r2: Array, x2: Array, d: Array) -> float:
    """Write the twist from frame 1 to frame 2 into ``d`` and return eta of its rotation."""
    w0 = 0.5 * (_dot(r1, 2, r2, 1) - _dot(r1, 1, r2, 2))
    w1 = 0.5 * (_dot(r1, 0, r2, 2) - _dot(r1, 2, r2, 0))
    w2 = 0.5 * (_dot(r1, 1, r2, 0) - _dot(r1, 0, r2, 1))
    sine = math.sqrt(w0 * w0 + w1 * w1 + w2 * w2)
    cosine = 0.5 * (_dot(r1, 0, r2, 0) + _dot(r1, 1, r2, 1) + _dot(r1, 2, r2, 2) - 1.0)
    if sine < 1e-4 and cosine > 0.0:
        factor = 1.0 + sine * sine / 6.0
    else:
        factor = math.atan2(sine, cosine) / sine
    w0, w1, w2 = w0 * factor, w1 * factor, w2 * factor
    square = w0 * w0 + w1 * w1 + w2 * w2
    eta = series(square)[0]
    s0, s1, s2 = x2[0] - x1[0], x2[1] - x1[1], x2[2] - x1[2]
    t0 = r1[0, 0] * s0 + r1[1, 0] * s1 + r1[2, 0] * s2
    t1 = r1[0, 1] * s0 + r1[1, 1] * s1 + r1[2, 1] * s2
    t2 = r1[0, 2] * s0 + r1[1, 2] * s1 + r1[2, 2] * s2
    dot = w0 * t0 + w1 * t1 + w2 * t2
    shrink = 1.0 - eta * square
    d[0] = shrink * t0 - 0.5 * (w1 * t2 - w2 * t1) + eta * dot * w0
    d[1] = shrink * t1 - 0.5 * (w2 * t0 - w0 * t2) + eta * dot * w1
    d[2] = shrink * t2 - 0.5 * (w0 * t1 - w1 * t0) + eta * dot * w2
    d[3], d[4], d[5] = w0, w1, w2
    return eta


@compiled
def tangent_operators(d: Array, p: Array, q: Array) -> None:
    """Write P and Q of the module's head for the twist ``d`` (6x6, lower left block zero)."""
    square = d[3] * d[3] + d[4] * d[4] + d[5] * d[5]
    dot = d[0] * d[3] + d[1] * d[4] + d[2] * d[5]
    eta, eta1, _ = series(square)
    for i in range(3):
        for j in range(3):
            e3 = eta * d[3 + i] * d[3 + j]
            x = eta * (d[i] * d[3 + j] + d[3 + i] * d[j]) + 2.0 * eta1 * dot * d[3 + i] * d[3 + j]
            if i == j:
                e3 += 1.0 - eta * square
                x -= 2.0 * (eta + eta1 * square) * dot
            p[i, j] = p[3 + i, 3 + j] = q[i, j] = q[3 + i, 3 + j] = e3
            p[i, 3 + j] = q[i, 3 + j] = x
            p[3 + i, j] = q[3 + i, j] = 0.0
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        h, g = 0.5 * d[3 + k], 0.5 * d[k]
        for base in (0, 3):
            p[base + i, base + j] -= h
            p[base + j, base + i] += h
            q[base + i, base + j] += h
            q[base + j, base + i] -= h
        p[i, 3 + j] -= g
        p[j, 3 + i] += g
        q[i, 3 + j] += g
        q[j, 3 + i] -= g


@compiled_inside
def tangent_derivatives(d: Array, s: Array, mr: Array, ml: Array) -> None:
    """Write the derivatives of ``P(d)^T s`` and ``Q(d)^T s`` with respect to ``d`` (6x6 each)."""
    square = d[3] * d[3] + d[4] * d[4] + d[5] * d[5]
    dot = d[0] * d[3] + d[1] * d[4] + d[2] * d[5]
    eta, eta1, eta2 = series(square)
    tn = d[3] * s[0] + d[4] * s[1] + d[5] * s[2]
    tm = d[3] * s[3] + d[4] * s[4] + d[5] * s[5]
    rn = d[0] * s[0] + d[1] * s[1] + d[2] * s[2]
    for i in range(3):
        ti, ri, ni, mi = d[3 + i], d[i], s[i], s[3 + i]
        wn = ti * tn - square * ni
        wm = ti * tm - square * mi
        dwn = ri * tn + ti * rn - 2.0 * dot * ni
        for j in range(3):
            tj, rj, nj, mj = d[3 + j], d[j], s[j], s[3 + j]
            an = ti * nj - 2.0 * ni * tj
            am = ti * mj - 2.0 * mi * tj
            rho = ri * nj - 2.0 * ni * rj
            if i == j:
                an += tn
                am += tm
                rho += rn
            a = eta * an + 2.0 * eta1 * wn * tj
            b = eta * am + 2.0 * eta1 * wm * tj
            b += 2.0 * eta1 * dot * an + eta * rho
            b += 4.0 * eta2 * dot * wn * tj + 2.0 * eta1 * (dwn * tj + wn * rj)
            mr[i, j] = ml[i, j] = 0.0
            mr[i, 3 + j] = ml[i, 3 + j] = a
            mr[3 + i, j] = ml[3 + i, j] = a
            mr[3 + i, 3 + j] = ml[3 + i, 3 + j] = b
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        hn, hm = 0.5 * s[k], 0.5 * s[3 + k]
        # rows and columns of the derivative of ad(d)^T s / 2, which is linear in d
        for row, column in ((i, 3 + j), (3 + i, j)):
            mr[row, column] -= hn
            ml[row, column] += hn
        for row, column in ((j, 3 + i), (3 + j, i)):
            mr[row, column] += hn
            ml[row, column] -= hn
        mr[3 + i, 3 + j] -= hm
        mr[3 + j, 3 + i] += hm
        ml[3 + i, 3 + j] += hm
        ml[3 + j, 3 + i] -= hm


@compiled_inside
def twist_increment(d: Array, delta1: Array, delta2: Array, factor: float) -> None:
    """Add ``factor * (P delta2 - Q delta1)`` to the twist ``d``, in place.

    Uses ``P x2 - Q x1 = E (x2 - x1) + ad(d) (x1 + x2)/2``.
    """
    t, r = d[3:], d[:3]
    square = t[0] * t[0] + t[1] * t[1] + t[2] * t[2]
    dot = t[0] * r[0] + t[1] * r[1] + t[2] * r[2]
    eta, eta1, _ = series(square)
    out = np.empty(6)
    tv = tw = rw = 0.0
    for i in range(3):
        v, w = delta2[i] - delta1[i], delta2[3 + i] - delta1[3 + i]
        tv += t[i] * v
        tw += t[i] * w
        rw += r[i] * w
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        v, w = delta2[i] - delta1[i], delta2[3 + i] - delta1[3 + i]
        vj, vk = delta1[j] + delta2[j], delta1[k] + delta2[k]
        wj, wk = delta1[3 + j] + delta2[3 + j], delta1[3 + k] + delta2[3 + k]
        out[3 + i] = w + eta * (t[i] * tw - square * w) + 0.5 * (t[j] * wk - t[k] * wj)
        out[i] = (
            v
            + eta * (t[i] * tv - square * v)
            + eta * (r[i] * tw + t[i] * rw - 2.0 * dot * w)
            + 2.0 * eta1 * dot * (t[i] * tw - square * w)
            + 0.5 * (t[j] * vk - t[k] * vj + r[j] * wk - r[k] * wj)
        )
    for i in range(6):
        d[i] += factor * out[i]
