"""Lengths over which stress is averaged before it is compared with a strength.

A peak stress at a knot grows as the mesh is refined and says nothing about strength.  Averaged
over a length that toughness and strength fix together, stress gives the load at which a crack
of finite length becomes both strong enough to form and energetic enough to open.

References
----------
J. M. Whitney, R. J. Nuismer, Stress fracture criteria for laminated composites containing stress
concentrations, Journal of Composite Materials 8 (1974), 253-265: average stress criterion.
R. Landelius, Mean stress length: finite area failure criterion, Lund Institute of Technology,
Report TVSM-5043 (1989): length from fracture energy (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.errors import MaterialError
from limbfe.wood.elasticity import Elasticity
from limbfe.wood.toughness import crack_moduli


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaneStrength:
    """Strength of the wood of a strip; Pa and J/m2.

    Attributes
    ----------
    tension, compression : float
        Along the grain.
    shear : float
        Along the grain.
    tension_across : float
    volume : float, m3
        That, stretched evenly, breaks on average at `tension` (`limbfe.wood.weakest_link`).
    across_grain : float, Pa
        Crushing strength across the grain.
    toughness_fibre, toughness_opening, toughness_sliding : float
        Energy to break fibres, to open and to slide a split along the grain.

    Raises
    ------
    MaterialError
        If a value is not positive.
    """

    tension: float
    compression: float
    shear: float
    tension_across: float
    toughness_fibre: float
    toughness_opening: float
    toughness_sliding: float
    volume: float
    across_grain: float

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            if not (np.isfinite(value) and value > 0.0):
                raise MaterialError(f"strip wood: {name} = {value!r} must be positive")


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowLengths:
    """Window sizes; m.

    Attributes
    ----------
    fibre : float
        Across the fibre, for rupture of fibres.
    opening, sliding : float
        Along the fibre, for the two ways of splitting.
    thickness : float
        The other side of every window.
    """

    fibre: float
    opening: float
    sliding: float
    thickness: float = 1e-3


def window_lengths(wood: Elasticity, strength: PlaneStrength) -> WindowLengths:
    """Return the window lengths of a wood, ``2/pi E Gc / f^2`` for each mode.

    Parameters
    ----------
    wood : Elasticity
    strength : PlaneStrength
    """
    E_I, E_II = crack_moduli(wood)

    def length(E: float, toughness: float, limit: float) -> float:
        return 2.0 / np.pi * E * toughness / limit**2

    return WindowLengths(
        fibre=length(E_II, strength.toughness_fibre, strength.tension),
        opening=length(E_I, strength.toughness_opening, strength.tension_across),
        sliding=length(E_II, strength.toughness_sliding, strength.shear),
    )
