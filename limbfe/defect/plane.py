"""Plane-stress stiffness of wood whose fibres turn in the plane and dive out of it.

In a strip L is along the grain, T across it in the plane of the strip and R out of the plane; for a
strip parallel to a radial face the tree's R and T are exchanged first.
"""

from __future__ import annotations

import numpy as np

from limbfe.frames import Array
from limbfe.wood.elasticity import Elasticity


def fibre_compliance(wood: Elasticity, dive: Array) -> Array:
    """Return plane-stress compliance along and across the fibre as it appears in the plane.

    Parameters
    ----------
    dive : ndarray, shape (...), rad
        Angle of the fibre out of the plane, in the L-R plane.

    Returns
    -------
    ndarray, shape (4, ...), 1/Pa
        S11, S22, S12, S66.

    Notes
    -----
    Exact: the in-plane entries of the 3D compliance turned about T; S16 and S26 vanish.
    """
    c2, s2 = np.cos(dive) ** 2, np.sin(dive) ** 2
    mixed = 1.0 / wood.G_LR - 2.0 * wood.nu_LR / wood.E_L
    S11 = c2 * c2 / wood.E_L + s2 * s2 / wood.E_R + mixed * s2 * c2
    S22 = np.full_like(c2, 1.0 / wood.E_T)
    S12 = -(wood.nu_LT * c2 / wood.E_L + wood.nu_RT * s2 / wood.E_R)
    S66 = c2 / wood.G_LT + s2 / wood.G_RT
    return np.stack([S11, S22, S12, S66])


def plane_stiffness(
    wood: Elasticity,
    angle: Array,
    dive: Array,
    E_factor: Array | float = 1.0,
    G_factor: Array | float = 1.0,
) -> Array:
    """Return plane-stress stiffness in strip axes.

    Parameters
    ----------
    angle : ndarray, shape (...), rad
        Fibre angle from x towards y.
    dive : ndarray, shape (...), rad
    E_factor, G_factor : ndarray, shape (...), or float
        Multipliers of the Young's moduli and of the shear moduli (decay).

    Returns
    -------
    ndarray, shape (..., 3, 3), Pa
        From [eps_xx, eps_yy, gamma_xy] to [s_xx, s_yy, s_xy].
    """
    S11, S22, S12, S66 = fibre_compliance(wood, dive)
    scale = E_factor / (S11 * S22 - S12 * S12)
    Q11, Q22, Q12, Q66 = S22 * scale, S11 * scale, -S12 * scale, G_factor / S66
    c, s = np.cos(angle), np.sin(angle)
    c2, s2, cs = c * c, s * s, c * s
    both = Q12 + 2.0 * Q66
    C = np.empty((3, 3, *np.shape(angle)))
    C[0, 0] = Q11 * c2 * c2 + 2.0 * both * s2 * c2 + Q22 * s2 * s2
    C[1, 1] = Q11 * s2 * s2 + 2.0 * both * s2 * c2 + Q22 * c2 * c2
    C[0, 1] = (Q11 + Q22 - 4.0 * Q66) * s2 * c2 + Q12 * (c2 * c2 + s2 * s2)
    C[2, 2] = (Q11 + Q22 - 2.0 * Q12 - 2.0 * Q66) * s2 * c2 + Q66 * (c2 * c2 + s2 * s2)
    C[0, 2] = cs * ((Q11 - both) * c2 - (Q22 - both) * s2)
    C[1, 2] = cs * ((Q11 - both) * s2 - (Q22 - both) * c2)
    C[1, 0], C[2, 0], C[2, 1] = C[0, 1], C[0, 2], C[1, 2]
    # Entry by entry in memory: what follows takes one entry of all points at a time.
    return np.moveaxis(C, (0, 1), (-2, -1))


def fibre_stress(stress: Array, angle: Array) -> Array:
    """Return stress along, across and in shear to the fibre in the plane.

    Parameters
    ----------
    stress : ndarray, shape (..., 3), Pa, strip axes
    angle : ndarray, shape (...), rad

    Returns
    -------
    ndarray, shape (..., 3), Pa: s_11, s_22, s_12
    """
    c, s = np.cos(angle), np.sin(angle)
    xx, yy, xy = stress[..., 0], stress[..., 1], stress[..., 2]
    along = c * c * xx + s * s * yy + 2.0 * c * s * xy
    across = s * s * xx + c * c * yy - 2.0 * c * s * xy
    shear = c * s * (yy - xx) + (c * c - s * s) * xy
    return np.moveaxis(np.stack([along, across, shear]), 0, -1)


def knot_stiffness(modulus: float, poisson: float) -> Array:
    """Return the plane-stress stiffness of an isotropic knot, shape (3, 3), Pa."""
    c = modulus / (1.0 - poisson**2)
    return c * np.array(
        [[1.0, poisson, 0.0], [poisson, 1.0, 0.0], [0.0, 0.0, 0.5 * (1.0 - poisson)]]
    )
