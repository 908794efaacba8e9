"""Fibre direction round knots: the flow of an ideal fluid past ellipses.

References
----------
J. R. Goodman, J. Bodig, Mathematical model of the tension behavior of wood with knots and cross
grain (1978), and S. M. Cramer, J. R. Goodman, Model for stress analysis and strength prediction
of lumber, Wood and Fiber Science 15 (1983): the flow-grain analogy (from memory).  The ellipse
is mapped onto a circle by Joukowski's transformation, so the field is exact and closed.
"""

from __future__ import annotations

from typing import Any

import numpy as np

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


def fibre_direction(points: Array, ellipses: tuple[Ellipse, ...], far: float) -> Array:
    """Return the unit vector along the fibre as in `fibre_angle`, either sense, shape (2, ...)."""
    velocity = _velocity(points, ellipses, far)
    velocity /= np.abs(velocity)
    return np.stack([velocity.real, -velocity.imag])


def _velocity(points: Array, ellipses: tuple[Ellipse | Ellipses, ...], far: float) -> np.ndarray:
    """Complex velocity u - i v of the flow, of unit size far away."""
    stream = np.exp(-1j * far)
    total = np.full(points.shape[:-1], stream, dtype=np.complex128)
    for ellipse in ellipses:
        zeta, k2, r0 = _circle_plane(points, ellipse)
        alpha = far - ellipse.angle
        own = np.exp(-1j * alpha)
        slope = (own - r0**2 * np.conj(own) / zeta**2) / (1.0 - k2 / zeta**2)
        total = total + (slope - own) * np.exp(-1j * ellipse.angle)
    # Stagnation points have no direction; the far one serves there.
    return np.where(np.abs(total) < 1e-12, stream, total)


def _circle_plane(points: Array, ellipse: Ellipse | Ellipses) -> tuple[np.ndarray, Any, Any]:
    """Image in the plane where the ellipse is the circle of radius r0."""
    z = points[..., 0] - ellipse.x + 1j * (points[..., 1] - ellipse.y)
    zeta = z * np.exp(-1j * ellipse.angle)
    k2 = 0.25 * (ellipse.a**2 - ellipse.b**2)
    r0 = 0.5 * (ellipse.a + ellipse.b)
    if np.any(k2 != 0.0):
        root = np.sqrt(zeta * zeta - 4.0 * k2)
        # Of the two inverse images the one outside the circle: where z and root point alike.
        alike = zeta.real * root.real + zeta.imag * root.imag >= 0.0
        zeta = 0.5 * (zeta + np.where(alike, root, -root))
    # Points inside carry no fibre: keep the map finite there, at the very middle too.
    size = np.abs(zeta)
    zeta = np.where(size > 0.0, zeta, r0)
    size = np.where(size > 0.0, size, r0)
    return np.where(size < r0, zeta / size * r0, zeta), k2, r0


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
