"""The function whose level lines are the fibres, by which their directions are checked."""

from __future__ import annotations

import numpy as np

from limbfe.defect.grain_flow import _circle_plane
from limbfe.defect.strip import Ellipse
from limbfe.frames import Array


def stream_function(points: Array, ellipses: tuple[Ellipse, ...], far: float) -> Array:
    """Return a function that is constant along every fibre, m.

    Far away it is the distance from the fibre through the origin.
    """
    z = points[..., 0] + 1j * points[..., 1]
    total = z * np.exp(-1j * far)
    for ellipse in ellipses:
        zeta, _, r0 = _circle_plane(points, ellipse)
        alpha = far - ellipse.angle
        own = np.exp(-1j * alpha)
        centred = (z - (ellipse.x + 1j * ellipse.y)) * np.exp(-1j * ellipse.angle)
        total += zeta * own + r0**2 * np.conj(own) / zeta - centred * own
    return np.asarray(total.imag)
