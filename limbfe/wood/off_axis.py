"""Strength of wood loaded at an angle to its grain, mode by mode."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.errors import MaterialError
from limbfe.frames import Array
from limbfe.wood.strength import HANKINSON_EXPONENTS, Strength, hankinson


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OffAxisStrength:
    """Uniaxial strengths at angles to the grain, Pa, arrays of the angles' shape.

    Attributes
    ----------
    fibre : ndarray
        Stress at which the fibres would break or crush, shear counted in.
    splitting : ndarray
        Stress at which the wood would part or crush across the grain, shear counted in.
    hankinson : ndarray
        The one-formula estimate.
    """

    fibre: Array
    splitting: Array
    hankinson: Array


def off_axis_strength(strength: Strength, angle: Any, *, sense: str) -> OffAxisStrength:
    """Return the strength of a bar loaded at an angle to its grain.

    Parameters
    ----------
    strength : Strength
    angle : array_like, rad
    sense : {"tension", "compression"}

    Returns
    -------
    OffAxisStrength

    Raises
    ------
    MaterialError
        If `sense` is neither word.

    Notes
    -----
    The mode-separated (modified Hashin) form: with ``c, s`` cosine and sine of the angle, fibre
    mode ``(c^2/F)^2 + (s c/S)^2 = 1/f^2`` in tension and ``c^2 f = F`` in compression; splitting
    ``(s^2/Q)^2 + (s c/S)^2 = 1/f^2``.  It followed off-axis tests of Douglas-fir best of the
    criteria compared.

    References
    ----------
    Federal Highway Administration, FHWA-HRT-04-097, Evaluation of LS-DYNA wood material model 143,
    App. D.  Hankinson: see `hankinson`.
    """
    if sense not in ("tension", "compression"):
        raise MaterialError(f'sense = "{sense}": use "tension" or "compression"')
    t = np.asarray(angle, dtype=np.float64)
    c, s = np.abs(np.cos(t)), np.abs(np.sin(t))
    shear = (s * c / strength.shear) ** 2
    if sense == "tension":
        along, across = strength.tension, strength.tension_across
        fibre = 1.0 / np.sqrt((c * c / along) ** 2 + shear)
    else:
        along, across = strength.compression, strength.compression_across
        with np.errstate(divide="ignore"):
            fibre = along / (c * c)
    with np.errstate(divide="ignore"):
        splitting = 1.0 / np.sqrt((s * s / across) ** 2 + shear)
    return OffAxisStrength(
        fibre=fibre,
        splitting=splitting,
        hankinson=hankinson(along, across, t, HANKINSON_EXPONENTS[sense]),
    )
