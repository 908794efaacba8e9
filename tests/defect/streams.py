"""The function whose level lines are the fibres, by which their directions are checked."""

from __future__ import annotations

import numpy as np

from limbfe.defect.strip import Ellipse
from limbfe.frames import Array


def stream_function(points: Array, ellipses: tuple[Ellipse, ...], far: float) -> Array:
    """Return a function that is constant along every fibre, m.

    Far away it is the distance from the fibre through the origin.
    """
    z = points[..., 0] + 1j * points[..., 1]
    total = z * np.exp(-1j * far)
    for ellipse in ellipses:
        zeta, r0 = circle_plane(points, ellipse)
        alpha = far - ellipse.angle
        own = np.exp(-1j * alpha)
        centred = (z - (ellipse.x + 1j * ellipse.y)) * np.exp(-1j * ellipse.angle)
        total += zeta * own + r0**2 * np.conj(own) / zeta - centred * own
    return np.asarray(total.imag)


def circle_plane(points: Array, ellipse: Ellipse) -> tuple[Array, float]:
    """Return points in the plane where an ellipse is a circle, and its radius (Joukowski)."""
    z = points[..., 0] - ellipse.x + 1j * (points[..., 1] - ellipse.y)
    zeta = z * np.exp(-1j * ellipse.angle)
    root = np.sqrt(zeta * zeta - (ellipse.a**2 - ellipse.b**2))
    alike = zeta.real * root.real + zeta.imag * root.imag >= 0.0
    return 0.5 * (zeta + np.where(alike, root, -root)), 0.5 * (ellipse.a + ellipse.b)
