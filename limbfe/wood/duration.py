"""How long a load stays: the strength that is left."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from limbfe.errors import MaterialError
from limbfe.frames import Array
from limbfe.wood.strength import Strength

HELD = 5.0
"""Seconds for which full draw is held where a case does not say: drawn, anchored and let go (common
practice 2 to 10 s)."""
_HOUR = 3600.0
_PER_DECADE = 0.063
_AT_AN_HOUR = 0.904


def load_duration_factor(seconds: Any) -> Array:
    """Return the strength under a constant load of some duration over that of a short test.

    Parameters
    ----------
    seconds : array_like, s
        Above zero.

    Returns
    -------
    ndarray
        ``0.904 - 0.063 log10(t / 1 h)``: 1.13 at one second, 1.08 at five, 1 at 108 s (the constant
        load that does what a test does whose load grows for some minutes), 0.90 at an hour, 0.59 at
        ten years.

    Raises
    ------
    MaterialError
        If a duration is not above zero.

    Notes
    -----
    6 per cent a decade is what dry wood shows over seconds too: 4 in compression along the grain
    over strain rates of 1 to 243 (Tiemann, in S. J. Record, The Mechanical Properties of Wood,
    1914, read), 8 (J. A. Liska, 1950, from memory).  The Madison curve of Wood's report of 1951,
    ``0.183 + 1.084 t^-0.0464``, keeps within 0.05 of the line from five minutes to ten years, but
    gives 0.10 to 0.12 a decade below a minute.

    References
    ----------
    L. W. Wood, Behavior of wood under continued loading (1947), read as quoted in Forests 12(9)
    (2021) 1148.

    Examples
    --------
    >>> [f"{factor:.2f}" for factor in load_duration_factor([1.0, 300.0, 3600.0])]
    ['1.13', '0.97', '0.90']
    """
    t = np.asarray(seconds, dtype=np.float64)
    if np.any(t <= 0.0):
        raise MaterialError(f"duration of load = {np.min(t):g} s: must be above zero")
    result: Array = _AT_AN_HOUR - _PER_DECADE * np.log10(t / _HOUR)
    return result


_CRUSHING = ("compression", "compression_proportional_limit", "compression_plateau")
_OTHERS = ("tension", "shear", "bending", "tension_across", "compression_across")


def gain_in_tension(seconds: float) -> float:
    """Return the factor of `load_duration_factor` for everything but crushing along the grain.

    Short of a test it gains half as much: of dry wood compression along the grain is among what
    depends most on the rate, bending less, and tension along the grain was found not to change
    (C. C. Gerhards, review, 1977; O. Buyuksari, Scots pine, 2017; abstracts read).
    """
    factor = float(load_duration_factor(seconds))
    return 1.0 + 0.5 * (factor - 1.0) if factor > 1.0 else factor


def lasting_strength(strength: Strength, seconds: float) -> Strength:
    """Return strengths under a load that stays for `seconds`; toughnesses are left as they are."""
    crushing, other = float(load_duration_factor(seconds)), gain_in_tension(seconds)
    changed = {name: crushing * getattr(strength, name) for name in _CRUSHING}
    changed |= {name: other * getattr(strength, name) for name in _OTHERS}
    return replace(strength, **changed)
