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


def bending_strength(tension: Any, compression: Any) -> Array:
    """Return the modulus of rupture of a bar that yields in compression and breaks in tension.

    Parameters
    ----------
    tension, compression : array_like, Pa
        Strengths along the grain, tension at least as large as compression.

    Returns
    -------
    ndarray, Pa
        ``f_c (3 n - 1) / (n + 1)`` with ``n = f_t / f_c``: between f_c and 3 f_c.

    Raises
    ------
    MaterialError
        If the tension strength is below the compression strength.

    Notes
    -----
    Rectangular section, equal modulus on both sides, brittle in tension, ideally plastic in
    compression.

    References
    ----------
    S. C. Bechtel, C. B. Norris, Strength of wood beams of rectangular cross section as affected by
    span-depth ratio, FPL report (1952); A. H. Buchanan, Bending strength of lumber, J. Struct. Eng.
    116 (1990) (both from memory; the algebra is closed form, recomputed).
    """
    ft, fc = np.asarray(tension, dtype=np.float64), np.asarray(compression, dtype=np.float64)
    if np.any(ft < fc):
        raise MaterialError(
            "tension strength below compression strength: the bending law of clear wood needs "
            "tension at least as strong; check both values"
        )
    n = ft / fc
    result: Array = fc * (3.0 * n - 1.0) / (n + 1.0)
    return result


def clear_tension(bending: Any, compression: Any) -> Array:
    """Return the tension strength that bending and compression strength imply.

    The inverse of `bending_strength`: ``n = (r + 1) / (3 - r)`` with ``r = bending / compression``.

    Parameters
    ----------
    bending, compression : array_like, Pa
        Modulus of rupture and crushing strength of clear wood.

    Returns
    -------
    ndarray, Pa
        Grows without bound as the ratio nears 3; doubtful above about 2.25.

    Raises
    ------
    MaterialError
        If the ratio is not between 1 and 3.
    """
    fm, fc = np.asarray(bending, dtype=np.float64), np.asarray(compression, dtype=np.float64)
    r = fm / fc
    if np.any((r < 1.0) | (r >= 3.0)):
        raise MaterialError(
            f"bending strength over compression strength = {np.max(r):.3g}: clear wood has 1 to 3 "
            "(1.6 to 2.3 in the table); correct one of them, or give tension_strength"
        )
    result: Array = fc * (r + 1.0) / (3.0 - r)
    return result
