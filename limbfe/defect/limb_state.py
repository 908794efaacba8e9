"""The limb's own strain and stress in a strip, as the beam knows them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.defect.plane import plane_stiffness
from limbfe.defect.strip import Strip, edge
from limbfe.defect.zone import Grain
from limbfe.frames import Array
from limbfe.wood.elasticity import Elasticity


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LimbStrain:
    """Strain of the sound limb in a strip, linear along and across it.

    The axial strain is ``axial + axial_slope (x - x0) - y (bending + bending_slope (x - x0))``.

    Attributes
    ----------
    x0 : float, m
    axial : float
        gamma_x + z kappa_y at x0, y = 0.
    axial_slope : float, 1/m
        Its change along the limb.
    bending : float, 1/m
        kappa_z at x0: bending in the plane of the strip.
    bending_slope : float, 1/m2
    shear : float
        Mean shear strain over the width.
    """

    x0: float
    axial: float
    axial_slope: float = 0.0
    bending: float = 0.0
    bending_slope: float = 0.0
    shear: float = 0.0


def limb_stress(
    strip: Strip, wood: Elasticity, grain: Grain, strain: LimbStrain, points: Array
) -> Array:
    """Return the stress of the sound limb in a strip.

    Parameters
    ----------
    points : ndarray, shape (..., 2), m

    Returns
    -------
    ndarray, shape (..., 3), Pa: s_xx, s_yy, s_xy

    Notes
    -----
    Axial stress is the axial strain times the modulus along x; mean shear is spread as a
    parabola.  Where the edges taper, shear and cross stress are added, linear across the width,
    such that no traction is left on the edges.  What then lacks to equilibrium in the plane is
    the shear that neighbouring layers exchange as the moment changes along the limb.
    """
    x, y = points[..., 0], points[..., 1]
    within = np.clip(x, strip.x[0], strip.x[-1])
    right, left = edge(strip, "right", within), edge(strip, "left", within)
    E_x, G_mean = _moduli(wood, grain)

    def axial(at: Array) -> Array:
        ahead = x - strain.x0
        value: Array = E_x * (
            strain.axial
            + strain.axial_slope * ahead
            - at * (strain.bending + strain.bending_slope * ahead)
        )
        return value

    share = (y - right) / (left - right)
    slope_right = edge(strip, "right", within, slope=True)
    slope_left = edge(strip, "left", within, slope=True)
    shear_right, shear_left = axial(right) * slope_right, axial(left) * slope_left
    parabola = 6.0 * share * (1.0 - share) * G_mean * strain.shear
    stress = np.stack(
        [
            axial(y),
            shear_right * slope_right * (1.0 - share) + shear_left * slope_left * share,
            shear_right * (1.0 - share) + shear_left * share + parabola,
        ]
    )
    return np.moveaxis(stress, 0, -1)


def _moduli(wood: Elasticity, grain: Grain) -> tuple[float, float]:
    """Young's modulus along x and shear modulus of the sound wood in the strip's axes."""
    sound = plane_stiffness(wood, np.array(grain.angle), np.array(grain.run_out))
    compliance = np.linalg.inv(sound)
    return float(1.0 / compliance[0, 0]), float(1.0 / compliance[2, 2])
