"""Splitting along the grain: what toughness and strength say together of a wood.

A crack of half length a in a wide sheet under a stress s square to it has ``K_I = s sqrt(pi a)``,
of whatever anisotropy, and sets free ``G_I = K_I^2 / E_I``.  A strength f and a toughness G_c thus
imply a flaw of half length ``a = E_I G_c / (pi f^2)``: clear wood that breaks at f breaks as if it
had one.  Likewise with E_II under shear.

References
----------
G. C. Sih, P. C. Paris, G. R. Irwin, On cracks in rectilinearly anisotropic bodies, International
Journal of Fracture Mechanics 1 (1965), 189-203 (from memory).
"""

from __future__ import annotations

import numpy as np

from limbfe.units import Quantity, Sentence, Words
from limbfe.wood.elasticity import Elasticity
from limbfe.wood.source import Flag
from limbfe.wood.wood import Wood

PLAUSIBLE = (1e-3, 50e-3)
"""Half length (m) of a flaw that a strength and a toughness of one wood may imply.  Those of the
woods in the table are 3 to 15 mm in opening and 5 to 19 mm in sliding: a third of the shortest and
nearly thrice the longest is left to pieces that differ from their kind."""
_USUAL = 7e-3
"""Such a flaw (m) in the middle of the table, for the figures that would fit."""


def crack_moduli(wood: Elasticity) -> tuple[float, float]:
    """Return E_I and E_II of a crack along the grain, Pa.

    ``G_I = K_I^2 / E_I`` for opening, ``G_II = K_II^2 / E_II`` for sliding.  The modulus of a
    crack across the grain that opens equals E_II.
    """
    root = np.sqrt(wood.E_L / wood.E_T)
    bracket = root + wood.E_L / (2.0 * wood.G_LT) - wood.nu_LT
    E_I = 1.0 / np.sqrt(bracket / (2.0 * wood.E_L * wood.E_T))
    E_II = wood.E_L / np.sqrt(0.5 * bracket)
    return float(E_I), float(E_II)


def implied_flaw(modulus: float, toughness: float, strength: float) -> float:
    """Return the half length (m) of the flaw that a strength (Pa) and a toughness (J/m2) imply.

    Parameters
    ----------
    modulus : float, Pa
        Of `crack_moduli`.
    toughness, strength : float
    """
    return modulus * toughness / (np.pi * strength**2)


def toughness_notes(wood: Wood) -> tuple[Words, ...]:
    """Return what to know of a strength and a toughness along the grain that contradict each other.

    Nothing is said of those that the table gave.
    """
    found: list[Words] = []
    across = (
        ("tension_strength_across", wood.strength.tension_across),
        ("toughness_opening", wood.strength.toughness_opening),
    )
    along = (
        ("shear_strength", wood.strength.shear),
        ("toughness_sliding", wood.strength.toughness_sliding),
    )
    for modulus, pair in zip(crack_moduli(wood.elasticity), (across, along), strict=True):
        (strength, f), (toughness, G) = pair
        given = [name for name, _ in pair if wood.sources[name].flag is Flag.GIVEN]
        flaw = implied_flaw(modulus, G, f)
        if not given or PLAUSIBLE[0] <= flaw <= PLAUSIBLE[1]:
            continue
        found.append(
            Sentence(
                "[wood.{}] {} and {} contradict each other: clear wood would split as if it had a "
                "flaw of {}, where wood has one of {} to {}, so that {}; with that strength "
                "goes a toughness of about {}, with that toughness a strength of about {}: check "
                "{} and the unit, or leave it out",
                wood.name,
                strength,
                toughness,
                Quantity("length", 2.0 * flaw, figures=2),
                Quantity("length", 2.0 * PLAUSIBLE[0], figures=2),
                Quantity("length", 2.0 * PLAUSIBLE[1], figures=2),
                "a split beside a knot would run at a load that clear wood hardly feels"
                if flaw < PLAUSIBLE[0]
                else "a split beside a knot would be held where clear wood splits by itself",
                Quantity("toughness", np.pi * f**2 * _USUAL / modulus, figures=2),
                Quantity("stress", np.sqrt(modulus * G / (np.pi * _USUAL)), figures=2),
                " and ".join(given),
            )
        )
    return tuple(found)
