"""Delayed strain along the grain: what a load that stays adds, and what comes back after it.

Creep is taken as shares of the elastic strain that come in over relaxation times, a decade each:
``share (1 - exp(-t / time))`` under a load of t, and ``exp(-rest / time)`` of that is left after a
rest, but for the part that never comes back.

References
----------
Times of 2 to 2000 hours: Maas and Wittel, wood-rheology (archive, 2026), spruce at 65 % relative
humidity, compression and tension apart (read).  Shorter times: a loss tangent of 0.01, as of dry
wood bent along the grain (from memory, fair), which is 1.5 % a decade.  Of the creep of hours about
a half comes back (FPL, Wood Handbook, 2010, ch. 5, read; more than half in compression, L. O.
Siopongco 1962, abstract).  Creep grows with moisture; that it doubles every 6.5 points is what
makes five lots of half-dry hardwood and pine keep what T. Laslett measured in 1894 (derived, his
moisture and times being assumed: `tests/verification/test_laslett_1894.py`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from limbfe.frames import Array

_HOUR = 3600.0
TIMES = np.array([10.0, 100.0, 1000.0, 2 * _HOUR, 20 * _HOUR, 200 * _HOUR, 2000 * _HOUR])
"""Relaxation times, s."""
_A_DECADE = 0.015
COMPRESSION = np.array([_A_DECADE, _A_DECADE, _A_DECADE, 0.056, 0.107, 0.127, 0.152])
TENSION = np.array([_A_DECADE, _A_DECADE, _A_DECADE, 0.0, 0.065, 0.0, 0.139])
"""Shares of the elastic strain at 12 % moisture."""
SHORT = 10.0 ** np.arange(-5.0, 1.0)
"""Relaxation times, s, that go on below those: what a drawn bow has done before it is let go."""
LASTING = np.where(TIMES < _HOUR, 0.0, 0.5)
"""Part of each share that never comes back."""
DOUBLES = 0.065
"""Moisture (fraction) that doubles creep."""
STRUNG = 2 * _HOUR
"""Seconds for which a bow is strung where a case does not say: an afternoon's shooting (chosen)."""
REST = 12 * _HOUR
"""Seconds of a night's rest."""
AT_ONCE = 60.0
"""Seconds after unstringing at which the set at once is read."""
_STANDARD = 0.12


@dataclass(frozen=True, slots=True, kw_only=True)
class Delayed:
    """Strain that is left of creep, as shares of the elastic strain under the load.

    Attributes
    ----------
    compression, tension : float
    """

    compression: float
    tension: float


def creep_factor(moisture: float | None) -> float:
    """Return creep at a moisture (fraction) over that at 12 %; 1 where it is not known."""
    return 1.0 if moisture is None else 2.0 ** ((moisture - _STANDARD) / DOUBLES)


def left_of_creep(loaded: float, rest: float, *, growing: bool = False) -> Delayed:
    """Return what a load leaves, at 12 % moisture.

    Parameters
    ----------
    loaded : float, s
        How long the load stayed.
    rest : float, s
        How long it has been off.
    growing : bool
        The load grew evenly all that time, as in a test.
    """
    came = 1.0 - np.exp(-loaded / TIMES)
    if growing:
        came = 1.0 - TIMES / loaded * came
    left = came * (LASTING + (1.0 - LASTING) * np.exp(-rest / TIMES))
    return Delayed(compression=float(COMPRESSION @ left), tension=float(TENSION @ left))


def lost_in_a_cycle(moisture: float | None) -> float:
    """Return the share of the work of a draw that wood itself turns to heat when it is let down.

    A quarter of ``2 pi`` times the loss tangent, since a draw swings by half of its strain about
    the middle; the loss tangent is that of the short times.
    """
    return math.pi / 2.0 * loss_factor(moisture)


def loss_factor(moisture: float | None) -> float:
    """Return the loss tangent of wood bent along the grain, 0.01 at 12 % (from memory, fair)."""
    return _A_DECADE * math.pi / 2.0 / math.log(10.0) * creep_factor(moisture)


def late_share(loss: float) -> float:
    """Return what answers late at each of the `SHORT` times, as a share of the stiffness at rest.

    That loses the same at every frequency between, within 6 %, a decade being coarse: `loss` times
    that stiffness.
    """
    return loss * 2.0 * math.log(10.0) / math.pi


def delayed_strain(elastic: Array, left: Delayed, factor: Array | float) -> Array:
    """Return the delayed strain of fibres of elastic strain, tension positive, any shape."""
    share = np.where(elastic < 0.0, left.compression, left.tension)
    strain: Array = factor * share * elastic
    return strain
