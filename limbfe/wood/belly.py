"""How clear wood is crushed along the grain, and what a bar of it then bears in bending.

The law has three stresses and three strains.  Short of the crushing strength f_c the strain that
stays grows with a power of the stress,

    left = LEFT_AT_PEAK (stress / f_c)^n,      left = LEFT_AT_LIMIT at the proportional limit,

at f_c the wood buckles into kink bands, the stress falls to a plateau while FALL of strain is
added, and there it stays.  The plateau is what bending says of the belly,

    plateau = PLATEAU sqrt(f_c f_b),      at most f_c,

with f_b the modulus of rupture.  Bars of all hardwoods bend to about 1.65 times their elastic
deflection, whatever blocks of the same wood were crushed at: a plateau in proportion to f_c alone
does too much of the published work where f_b / f_c is high and too little where it is low, and one
in proportion to f_b alone asks of yew and European elm 1.7 and 1.9 times the tension strength that
was measured.  The mean of the two is between.  Unloading has the full modulus: after the peak it
was seen to be less, and the kinks to straighten softly in tension, but no figures were found, so a
set is more likely over- than understated.

`tests/verification/test_fpl_2010_work.py` holds the evidence, DEVELOPERS.md what else was tried.

References
----------
Maas and Wittel, wood-rheology (data archive, 2026): Norway spruce at 11 % moisture, strain left
after compression cycles (read): median 0.0027, 0.0066, 0.0106, 0.020 and 0.044 % at 0.75, 0.85,
0.9, 0.95 and 1.0 f_c; total strain at f_c 0.42 %.  FPL, Wood Handbook (2010), Table 5-3a: bending
strength, crushing strength, modulus and work to maximum load of 22 hardwoods (read in a copy).
That the stress falls after the peak of a block test: from memory; the strain it takes was chosen,
between 0.2 and 1 % the median work of the bars changes by a tenth.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.errors import MaterialError
from limbfe.frames import Array

LEFT_AT_PEAK = 4.4e-4
"""Strain left when the crushing strength is just reached."""
LEFT_AT_LIMIT = 4.0e-5
"""Strain left at the proportional limit: a hundredth of the strain there, which is where a plot
leaves the straight line to the eye.  With 0.80 f_c for softwoods the exponent is 10.7, and the law
leaves 0.8 to 1.4 times the medians of spruce."""
FALL = 0.004
"""Plastic strain over which the stress falls from the crushing strength to the plateau."""
PLATEAU = 0.622
"""Plateau over the geometric mean of crushing and bending strength."""
_SHARES = np.array([0.0, LEFT_AT_LIMIT / LEFT_AT_PEAK, 0.3, 0.6, 1.0])
_FIRST = 0.02
"""Points of the rising curve, shares of LEFT_AT_PEAK; it starts at the stress of the share _FIRST,
0.6 f_c, below which less than 0.001 % is left."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BellyLaw:
    """The numbers of the law, Pa: floats or arrays of one shape.

    Attributes
    ----------
    modulus : along the grain.
    crushing, limit, plateau : crushing strength, proportional limit, stress of the plateau.
    """

    modulus: Any
    crushing: Any
    limit: Any
    plateau: Any


def plateau_stress(compression: float, bending: float) -> float:
    """Return the stress of the plateau, Pa, of crushing and bending strength."""
    return min(PLATEAU * float(np.sqrt(compression * bending)), compression)


def yield_points(law: BellyLaw) -> tuple[Array, Array]:
    """Return the points between which the yield stress runs straight.

    Returns
    -------
    stress : ndarray, shape (6, ...), Pa
        Infinite where the crushing strength is.
    plastic : ndarray, shape (6, ...)
        The first 0; beyond the last the stress stays.  The fall takes FALL, or more where it would
        be steeper than half of the modulus, which no wood's is.
    """
    high = np.asarray(law.crushing, dtype=np.float64)
    yields = np.isfinite(high)
    with np.errstate(invalid="ignore"):
        share = np.where(yields, np.asarray(law.limit) / high, 1.0)
    power = np.log(share) / np.log(_SHARES[1])
    shares = np.maximum(_SHARES, _FIRST).reshape(-1, *(1,) * high.ndim)
    rising = np.where(yields, high, np.inf) * shares**power
    plateau = np.broadcast_to(np.where(yields, law.plateau, np.inf), high.shape)
    drop = np.where(yields, high, 0.0) - np.where(yields, plateau, 0.0)
    plastic = np.empty((len(shares) + 1, *high.shape))
    plastic[:-1] = LEFT_AT_PEAK * _SHARES.reshape(shares.shape)
    plastic[-1] = LEFT_AT_PEAK + np.maximum(FALL, 2.0 * drop / np.asarray(law.modulus))
    return np.concatenate([rising, plateau[None]]), plastic


def crushed_strain(modulus: Any, plateau: Any) -> Array:
    """Return the shortening at which the wood has given way to its plateau: about 1 per cent."""
    strain: Array = np.asarray(plateau) / modulus + LEFT_AT_PEAK + FALL
    return strain


def bending_strength(law: BellyLaw, tension: float) -> float:
    """Return the modulus of rupture of a bar that is crushed on one face and torn on the other.

    Parameters
    ----------
    law : BellyLaw, floats
    tension : float, Pa
        Strength along the grain, at least the crushing strength.

    Raises
    ------
    MaterialError
        If the tension strength is below the crushing strength.

    Notes
    -----
    Rectangular section, tension elastic until it breaks, plane sections.  With e_c and e_t the
    strains of the two faces, no axial force means ``E e_t^2 / 2 = integral of s de`` to e_c, and
    the nominal stress is ``6 (integral of s e de + E e_t^3 / 3) / (e_c + e_t)^2``; both integrals
    of the polygon in closed form.
    """
    if tension < law.crushing:
        raise MaterialError(
            "tension strength below compression strength: the bending law of clear wood needs "
            "tension at least as strong; check both values"
        )
    nominal, face = _bent(law)
    reached = face <= tension
    last = float(np.interp(tension, face, nominal))
    return max(last, float(nominal[reached].max()))


def clear_tension(law: BellyLaw, bending: float) -> float:
    """Return the tension strength that gives a bar its bending strength, both Pa.

    The inverse of `bending_strength`.

    Raises
    ------
    MaterialError
        If the bending strength is below the crushing strength, or no tension strength gives it.
    """
    nominal, face = _bent(law)
    ratio = bending / law.crushing
    if ratio < 1.0 or bending > float(nominal.max()):
        raise MaterialError(
            f"bending strength over compression strength = {ratio:.3g}: clear wood has 1 to 3 "
            "(1.6 to 2.3 in the table); correct one of them, or give tension_strength"
        )
    after = int((nominal >= bending).argmax())
    span = slice(after - 1, after + 1)
    return float(np.interp(bending, nominal[span], face[span]))


def _bent(law: BellyLaw) -> tuple[Array, Array]:
    """Return nominal stress and stress of the tension face at growing curvature, Pa."""
    E = float(law.modulus)
    stress, plastic = yield_points(law)
    corners = np.concatenate([[0.0], stress / E + plastic])
    first = law.crushing / E
    far = np.geomspace(0.5 * first, 60.0 * first + 0.1, 2000)
    strain = np.union1d(np.concatenate([[0.0], corners]), far)
    pressed = np.interp(strain, corners, np.concatenate([[0.0], stress]))
    low, high, left, right = strain[:-1], strain[1:], pressed[:-1], pressed[1:]
    force = 0.5 * (high - low) * (left + right)
    inner = 2.0 * low * left + low * right + high * left + 2.0 * high * right
    moment = (high - low) * inner / 6.0
    stretched = np.sqrt(2.0 * np.cumsum(force) / E)
    nominal = 6.0 * (np.cumsum(moment) + E * stretched**3 / 3.0) / (high + stretched) ** 2
    return np.append(0.0, nominal), np.append(0.0, E * stretched)
