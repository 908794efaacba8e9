"""An inextensible, unshearable rod in a plane, clamped, by functions of the whole rod.

Its angle is ``s`` times Legendre polynomials; places are integrals of cosine and sine, kinetic
energy that of the places' speeds, energy half the square of the angle's slope (L = EI = mass per
length = 1).  Shares nothing with the chains it is held against.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.polynomial import legendre
from scipy.integrate import solve_ivp


def swing_rod(
    functions: int, force: Callable[[float], float], stops: list[np.ndarray]
) -> np.ndarray:
    """Rows of time, place and angle of the tip and moment at the root, at the times of `stops`.

    Parameters
    ----------
    functions : int
    force : callable
        Of time, across the straight rod, at its tip; smooth between the last times of `stops`.
    stops : list of ndarray
        Times, ascending; integrated array by array.
    """
    points = 2 * functions + 12
    at, weight = legendre.leggauss(points)
    s, w = 0.5 * (at + 1.0), 0.5 * weight
    each = np.eye(points)
    # from values to coefficients, and those to integrals from the clamp
    fit = (np.arange(points)[:, None] + 0.5) * (legendre.legvander(at, points - 1).T * weight)
    to = [0.5 * legendre.legval(at, legendre.legint(one, lbnd=-1)) for one in each]
    integral = np.column_stack(to) @ fit
    base = legendre.legvander(at, functions - 1)
    rates = [legendre.legval(at, legendre.legder(one[:functions])) for one in each[:functions]]
    angle = s[:, None] * base
    slope = base + 2.0 * s[:, None] * np.column_stack(rates)
    stiffness = slope.T @ (w[:, None] * slope)

    def move(t: float, y: np.ndarray) -> np.ndarray:
        q, speed = y[:functions], y[functions:]
        c, d, turn = np.cos(angle @ q), np.sin(angle @ q), angle @ speed
        x, z = integral @ (-d[:, None] * angle), integral @ (c[:, None] * angle)
        mass = x.T @ (w[:, None] * x) + z.T @ (w[:, None] * z)
        inertia = x.T @ (w * (integral @ (-c * turn**2)))
        inertia += z.T @ (w * (integral @ (-d * turn**2)))
        push = force(t) * (w @ (c[:, None] * angle)) - stiffness @ q - inertia
        return np.concatenate([speed, np.linalg.solve(mass, push)])

    state, start, rows = np.zeros(2 * functions), 0.0, []
    for times in stops:
        found = solve_ivp(
            move, (start, times[-1]), state, "DOP853", rtol=1e-9, atol=1e-11, t_eval=times
        )
        for t, y in zip(times, found.y.T, strict=True):
            q = y[:functions]
            tip = [w @ np.cos(angle @ q), w @ np.sin(angle @ q), q.sum()]
            rows.append([t, *tip, q @ (-1.0) ** np.arange(functions)])
        state, start = found.y[:, -1], times[-1]
    return np.array(rows)
