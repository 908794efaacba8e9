"""Strengths of clear wood and the laws that tie them together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Any

import numpy as np

from limbfe.errors import MaterialError
from limbfe.frames import Array

HANKINSON_EXPONENTS: Mapping[str, float] = MappingProxyType(
    {"tension": 1.5, "compression": 2.5, "bending": 1.5, "modulus": 2.0, "toughness": 1.5}
)
"""Exponents n of `hankinson` by property.

FPL, Wood Handbook, FPL-GTR-190 (2010), ch. 5: bending 1.5 and compression 2.5 are those its
slope-of-grain section uses (read); tension 1.5-2 (read in a second source), modulus 2 and
toughness 1.5-2 from its table beside the Hankinson equation (from memory).  Of a range the end
that gives the lower strength is kept."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strength:
    """Mean strengths of clear wood.

    Attributes
    ----------
    tension, compression : float, Pa
        Along the grain; compression is the crushing strength.
    compression_proportional_limit : float, Pa
        Stress along the grain at which compression leaves the straight line.
    shear : float, Pa
        Parallel to the grain.
    bending : float, Pa
        Modulus of rupture: nominal outer stress of a rectangular bar at failure.
    tension_across, compression_across : float, Pa
        Across the grain; compression at the proportional limit.
    toughness_fibre, toughness_opening, toughness_sliding : float, J/m2
        Fracture energies: breaking the fibres, splitting along the grain by opening and by
        sliding.
    cov : mapping of str to float
        Coefficients of variation by the names a case file uses (``E_L``, ``density``,
        ``tension_strength``, ...).

    Raises
    ------
    MaterialError
        If a strength is not positive, the proportional limit lies above the crushing strength, or
        a coefficient of variation is negative.
    """

    tension: float
    compression: float
    compression_proportional_limit: float
    shear: float
    bending: float
    tension_across: float
    compression_across: float
    toughness_fibre: float
    toughness_opening: float
    toughness_sliding: float
    cov: Mapping[str, float]

    def __post_init__(self) -> None:
        for item in fields(self):
            if item.name == "cov":
                continue
            value = getattr(self, item.name)
            if not (np.isfinite(value) and value > 0.0):
                raise MaterialError(f"{item.name} = {value:g}: must be finite and above zero")
        if self.compression_proportional_limit > self.compression:
            raise MaterialError(
                f"compression_proportional_limit = {self.compression_proportional_limit:g} Pa: "
                f"above the compression strength {self.compression:g} Pa; lower it"
            )
        for name, value in self.cov.items():
            if not (np.isfinite(value) and 0.0 <= value < 1.0):
                raise MaterialError(
                    f"cov of {name} = {value:g}: give a fraction from 0 to below 1 (0.18, not 18)"
                )
        object.__setattr__(self, "cov", MappingProxyType(dict(self.cov)))


def hankinson(along: Any, across: Any, angle: Any, n: float) -> Array:
    """Return a strength (or modulus) at an angle to the grain.

    Parameters
    ----------
    along, across : array_like, Pa
        Values P along and Q across the grain.
    angle : array_like, rad
        Angle between load and grain; only its size matters.
    n : float
        Exponent, see `HANKINSON_EXPONENTS`.

    Returns
    -------
    ndarray, Pa
        ``P Q / (P sin^n(angle) + Q cos^n(angle))``.

    References
    ----------
    FPL, Wood Handbook, FPL-GTR-190 (2010), ch. 5, Hankinson-type formula.
    """
    p = np.asarray(along, dtype=np.float64)
    q = np.asarray(across, dtype=np.float64)
    t = np.asarray(angle, dtype=np.float64)
    s, c = np.abs(np.sin(t)) ** n, np.abs(np.cos(t)) ** n
    result: Array = p * q / (p * s + q * c)
    return result
