"""How long a load stays: the strength that is left."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from limbfe.errors import MaterialError
from limbfe.frames import Array
from limbfe.wood.strength import Strength


def load_duration_factor(seconds: Any) -> Array:
    """Return the strength under a constant load of some duration over that of a short test.

    Parameters
    ----------
    seconds : array_like, s
        Above zero.

    Returns
    -------
    ndarray
        ``(18.3 + 108.4 t^-0.0464) / 100``: 1.27 at one second, 1 in a test of about 7.5 minutes,
        0.92 at an hour, 0.62 at ten years.

    Raises
    ------
    MaterialError
        If a duration is not above zero.

    References
    ----------
    L. W. Wood, Relation of strength of wood to duration of load, FPL Report 1916 (1951), the
    Madison curve, read as quoted in Forests 12(9) (2021) 1148.

    Examples
    --------
    >>> [f"{factor:.2f}" for factor in load_duration_factor([1.0, 300.0, 3600.0])]
    ['1.27', '1.01', '0.92']
    """
    t = np.asarray(seconds, dtype=np.float64)
    if np.any(t <= 0.0):
        raise MaterialError(f"duration of load = {np.min(t):g} s: must be above zero")
    result: Array = 0.183 + 1.084 * t**-0.0464
    return result


STRESSES = (
    "tension",
    "compression",
    "compression_proportional_limit",
    "shear",
    "bending",
    "tension_across",
    "compression_across",
)


def lasting_strength(strength: Strength, seconds: float) -> Strength:
    """Return strengths under a load that stays for `seconds`; toughnesses are left as they are.

    The curve was found in bending; that every strength follows it is an assumption.
    """
    factor = float(load_duration_factor(seconds))
    changed = {name: factor * getattr(strength, name) for name in STRESSES}
    return replace(strength, **changed)
