"""Strain of a solved plate at any depth."""

from __future__ import annotations

import numpy as np

from limbfe.defect.plate.plate import Plate
from limbfe.frames import Array


def function_strains(plate: Plate, displacement: Array) -> Array:
    """Return the strain of every u_k at the quadrature points.

    Parameters
    ----------
    displacement : ndarray, shape (n, 2 K + 1), m

    Returns
    -------
    ndarray, shape (m, q, K, 3)
        ``eps_xx, eps_yy, gamma_xy``.
    """
    K = plate.profiles.count
    u = displacement[:, : 2 * K].reshape(-1, K, 2)[plate.mesh.elements]
    m, k = u.shape[:2]
    moved = u.reshape(m, k, 2 * K)
    slopes = np.matmul(plate.at.gradients.swapaxes(2, 3), moved[:, None])
    slopes = slopes.reshape(m, -1, 2, K, 2)
    by_x, by_y = slopes[:, :, 0], slopes[:, :, 1]
    return np.stack([by_x[..., 0], by_y[..., 1], by_y[..., 0] + by_x[..., 1]], axis=-1)
