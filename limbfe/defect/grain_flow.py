"""Fibre direction round knots: the flow of an ideal fluid past ellipses.

References
----------
J. R. Goodman, J. Bodig, Mathematical model of the tension behavior of wood with knots and cross
grain (1978), and S. M. Cramer, J. R. Goodman, Model for stress analysis and strength prediction
of lumber, Wood and Fiber Science 15 (1983): the flow-grain analogy (from memory).  The ellipse
is mapped onto a circle by Joukowski's transformation, so the field is exact and closed.
"""

from __future__ import annotations

import math

import numpy as np

from limbfe.compiled import as_read, compiled, compiled_inside
from limbfe.defect.strip import Ellipse, Ellipses, elliptic_radius, local
from limbfe.frames import Array


def fibre_angle(points: Array, ellipses: tuple[Ellipse | Ellipses, ...], far: float) -> Array:
    """Return the fibre angle round ellipses, from x towards y.

    Parameters
    ----------
    points : ndarray, shape (..., 2), m
    ellipses : tuple of Ellipse or Ellipses
        Obstacles; they may lie outside the strip.
    far : float, rad
        Fibre angle far from every knot.

    Returns
    -------
    ndarray, shape (...), rad, in (-pi/2, pi/2]
        Inside an ellipse the value has no meaning.  For one ellipse the fibre is tangent to its
        rim; for several the disturbances are added, which keeps the tangency approximate where
        they stand closer than about a diameter.
    """
    velocity = _velocity(points, ellipses, far)
    angle = -np.angle(velocity)
    folded: Array = np.where(
        angle > 0.5 * np.pi, angle - np.pi, np.where(angle <= -0.5 * np.pi, angle + np.pi, angle)
    )
    return folded


def follow_fibres(
    start: Array, angle: Array, step: Array, half: int, ellipses: tuple[Ellipse, ...], far: float
) -> tuple[Array, Array]:
    """Return points in the middle of each step along the fibre both ways, and the fibre there.

    Parameters
    ----------
    start : ndarray, shape (n, 2), m
    angle : ndarray, shape (n,), rad
        Of the fibre there.
    step : ndarray, shape (n,), m
    half : int
        Steps each way.

    Returns
    -------
    middle, direction : ndarray, shape (2, n, 2 half)
        Their x and y.
    """
    middle, direction = np.empty((2, 2, len(start), 2 * half))
    rims = as_read(_rims(ellipses, ()).reshape(len(ellipses), 5))
    _follow(middle, direction, as_read(start), as_read(angle), as_read(step), rims, float(far))
    return middle, direction


def _velocity(points: Array, ellipses: tuple[Ellipse | Ellipses, ...], far: float) -> np.ndarray:
    """Complex velocity u - i v of the flow, of unit size far away."""
    traces = [one for one in ellipses if isinstance(one, Ellipses)]
    shape = np.broadcast_shapes(points.shape[:-1], *(one.x.shape for one in traces))
    x, y = (as_read(np.broadcast_to(points[..., k], shape).ravel()) for k in (0, 1))
    rims = as_read(_rims(ellipses, shape if traces else ()))
    total = np.empty((len(x), 2))
    count = len(x) if traces else 1
    _flow(total, x, y, rims.reshape(len(ellipses), 5, count), float(far))
    velocity: np.ndarray = total.view(np.complex128).reshape(shape)
    return velocity


def _rims(ellipses: tuple[Ellipse | Ellipses, ...], shape: tuple[int, ...]) -> Array:
    """Return middle, semi-axes and angle of ellipses, shape (e, 5, *shape)."""
    out = np.empty((len(ellipses), 5, *shape))
    for k, one in enumerate(ellipses):
        for row, value in enumerate((one.x, one.y, one.a, one.b, one.angle)):
            out[k, row] = value
    return out


@compiled_inside
def _speed(
    x: float, y: float, ellipse: tuple[float, float, float, float, float], c: float, s: float,
    far: tuple[float, float],
) -> tuple[float, float]:  # fmt: skip
    """Return what one ellipse adds to the flow; c and s of its angle, `far` of the far flow's.

    In the plane where the ellipse is the circle of radius r0 round the middle.
    """
    dx, dy = x - ellipse[0], y - ellipse[1]
    re, im = c * dx + s * dy, c * dy - s * dx
    k2 = 0.25 * (ellipse[2] ** 2 - ellipse[3] ** 2)
    r0 = 0.5 * (ellipse[2] + ellipse[3])
    if k2 != 0.0:
        p, q = re * re - im * im - 4.0 * k2, 2.0 * re * im
        size = math.hypot(p, q)
        if p >= 0.0:
            root = math.sqrt(0.5 * (size + p))
            other = 0.5 * q / root if root > 0.0 else 0.0
        else:
            other = math.copysign(math.sqrt(0.5 * (size - p)), q)
            root = 0.5 * q / other
        # Of the two inverse images the one outside the circle: where z and root point alike.
        way = 1.0 if re * root + im * other >= 0.0 else -1.0
        re, im = 0.5 * (re + way * root), 0.5 * (im + way * other)
    # Points inside carry no fibre: keep the map finite there, at the very middle too.
    size = math.hypot(re, im)
    if size <= 0.0:
        re, im, size = r0, 0.0, r0
    if size < r0:
        re, im, size = re / size * r0, im / size * r0, r0
    inverse = 1.0 / (size * size) ** 2
    p, q = (re * re - im * im) * inverse, -2.0 * re * im * inverse
    # exp(-i alpha), alpha the far flow's angle from the ellipse
    u, v = far[0] * c + far[1] * s, far[0] * s - far[1] * c
    over_re, over_im = u - r0 * r0 * (u * p + v * q), v - r0 * r0 * (u * q - v * p)
    under_re, under_im = 1.0 - k2 * p, -k2 * q
    under = under_re * under_re + under_im * under_im
    slope_re = (over_re * under_re + over_im * under_im) / under - u
    slope_im = (over_im * under_re - over_re * under_im) / under - v
    return slope_re * c + slope_im * s, slope_im * c - slope_re * s


@compiled
def _flow(total: Array, x: Array, y: Array, rims: Array, far: float) -> None:
    ahead = math.cos(far), math.sin(far)
    for k in range(len(x)):
        re, im = ahead[0], -ahead[1]
        for e in range(len(rims)):
            n = k if rims.shape[2] > 1 else 0
            one = (rims[e, 0, n], rims[e, 1, n], rims[e, 2, n], rims[e, 3, n], rims[e, 4, n])
            more = _speed(x[k], y[k], one, math.cos(one[4]), math.sin(one[4]), ahead)
            re += more[0]
            im += more[1]
        # Stagnation points have no direction; the far one serves there.
        if math.hypot(re, im) < 1e-12:
            re, im = ahead[0], -ahead[1]
        total[k, 0], total[k, 1] = re, im


@compiled
def _follow(
    middle: Array, direction: Array, start: Array, angle: Array, step: Array, rims: Array,
    far: float,
) -> None:  # fmt: skip
    ahead, half = (math.cos(far), math.sin(far)), middle.shape[2] // 2
    turns = np.empty((len(rims), 2))
    for e in range(len(rims)):
        turns[e, 0], turns[e, 1] = math.cos(rims[e, 4]), math.sin(rims[e, 4])
    for k in range(len(start)):
        for sense in range(2):
            sign = 1.0 - 2.0 * sense
            x, y = start[k, 0], start[k, 1]
            along, across = sign * math.cos(angle[k]), sign * math.sin(angle[k])
            for n in range(half):
                at_x, at_y = x + 0.5 * step[k] * along, y + 0.5 * step[k] * across
                re, im = ahead[0], -ahead[1]
                for e in range(len(rims)):
                    one = (rims[e, 0], rims[e, 1], rims[e, 2], rims[e, 3], rims[e, 4])
                    more = _speed(at_x, at_y, one, turns[e, 0], turns[e, 1], ahead)
                    re += more[0]
                    im += more[1]
                size = math.hypot(re, im)
                if size < 1e-12:
                    re, im, size = ahead[0], -ahead[1], 1.0
                # A fibre has no sense: keep the one we came with.
                way = -1.0 if re * along - im * across < 0.0 else 1.0
                along, across = way * re / size, -way * im / size
                middle[0, k, sense * half + n], middle[1, k, sense * half + n] = at_x, at_y
                direction[0, k, sense * half + n] = sign * along
                direction[1, k, sense * half + n] = sign * across
                x, y = x + step[k] * along, y + step[k] * across


def bulge_slope(
    points: Array,
    angle: Array,
    ellipse: Ellipse | Ellipses,
    height: Array | float,
    reach: Array | float,
) -> Array:
    """Return the tangent of the angle at which fibres dive where a ring bulges over a knot.

    The ring's height above the plane is ``height * exp(-((rho - 1) b / reach)^2)``, with rho the
    elliptic radius.

    Parameters
    ----------
    points : ndarray, shape (..., 2), m
    angle : ndarray, shape (...), rad
        Fibre angle in the plane.
    height, reach : ndarray, shape (...), or float, m
    """
    rho = elliptic_radius(ellipse, points)
    p = local(ellipse, points)
    safe = np.maximum(rho, 1e-12)
    dx = p[..., 0] / (ellipse.a**2 * safe)
    dy = p[..., 1] / (ellipse.b**2 * safe)
    away = (rho - 1.0) * ellipse.b / reach
    steep = -2.0 * away * ellipse.b / reach * height * np.exp(-(away**2))
    turned = angle - ellipse.angle
    slope: Array = np.where(rho > 1.0, steep * (dx * np.cos(turned) + dy * np.sin(turned)), 0.0)
    return slope
