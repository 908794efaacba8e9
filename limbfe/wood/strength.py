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
    {"tension": 2.0, "compression": 2.5, "bending": 1.5, "modulus": 2.0, "toughness": 1.5}
)
"""Exponents n of `hankinson` by property.

FPL, Wood Handbook, FPL-GTR-190 (2010), ch. 5: bending 1.5 and compression 2.5 are those its
slope-of-grain section uses (read), with strength across the grain a tenth of that along it;
tension 1.5-2 (read in a second source), modulus 2 and toughness 1.5-2 from its table beside the
Hankinson equation (from memory).  Tension takes 2, since the woods' own ratio of strength across
to along, 0.02 to 0.04, goes with it: white ash at slopes of 1 in 25, 10 and 5 keeps 96, 81 and
53 %, the book's bending strengths are 96, 81 and 55 % (Table 5-12, from memory); with 1.5 it
would keep 84, 57 and 32 %."""


LEAST_SHARE = 0.4
"""Proportional limit and plateau of wood are at least this share of the crushing strength: 0.68 to
0.92 and 0.68 to 0.95 in the tables, with room to spare."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strength:
    """Mean strengths of clear wood.

    Attributes
    ----------
    tension, compression : float, Pa
        Along the grain; compression is the crushing strength.
    compression_proportional_limit : float, Pa
        Stress along the grain at which compression leaves the straight line.
    compression_plateau : float, Pa
        What a crushed belly goes on bearing along the grain; see `limbfe.wood.belly`.
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
        If a strength is not positive, proportional limit or plateau lie above the crushing strength
        or far below it, or a coefficient of variation is negative.
    """

    tension: float
    compression: float
    compression_proportional_limit: float
    compression_plateau: float
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
        for name in ("compression_proportional_limit", "compression_plateau"):
            check_share(name, getattr(self, name), self.compression)
        for name, value in self.cov.items():
            if not (np.isfinite(value) and 0.0 <= value < 1.0):
                raise MaterialError(
                    f"cov of {name} = {value:g}: give a fraction from 0 to below 1 (0.18, not 18)"
                )
        object.__setattr__(self, "cov", MappingProxyType(dict(self.cov)))


def check_share(name: str, value: float, compression: float) -> None:
    """Refuse a stress of the belly's law that no wood has beside its crushing strength, Pa.

    Raises
    ------
    MaterialError
        Naming the key of the case.
    """
    share = value / compression
    if not LEAST_SHARE <= share <= 1.0:
        raise MaterialError(
            f"{name} = {1e-6 * value:.4g} MPa: is {share:.2f} times compression_strength "
            f"({1e-6 * compression:.4g} MPa); wood has {LEAST_SHARE:g} to 1 times it: correct one "
            "of them"
        )


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
        ``P Q / (P sin^n(angle) + Q cos^n(angle))``; infinite where both are.

    References
    ----------
    FPL, Wood Handbook, FPL-GTR-190 (2010), ch. 5, Hankinson-type formula.

    Examples
    --------
    >>> strengths = hankinson(40.0, 5.0, np.radians([0.0, 30.0, 90.0]), 2.0)
    >>> [f"{strength:.2f}" for strength in strengths]
    ['40.00', '14.55', '5.00']
    """
    p = np.asarray(along, dtype=np.float64)
    q = np.asarray(across, dtype=np.float64)
    t = np.asarray(angle, dtype=np.float64)
    s, c = np.abs(np.sin(t)) ** n, np.abs(np.cos(t)) ** n
    with np.errstate(divide="ignore"):
        result: Array = 1.0 / (s / q + c / p)
    return result
