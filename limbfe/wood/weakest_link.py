"""Tension strength along the grain as that of a weakest link: more wood stretched, less strength.

A strength measured on one piece holds for the volume that was stretched in it.  If links of wood
fail apart from each other, with a strength that scatters inside a piece by Weibull's law, the piece
fails on average where

    (integral of (stress / strength)^SHAPE dV / V_0)^(1 / SHAPE) = 1,

``strength`` being the mean that pieces have which stretch V_0 evenly.  Tension strengths here are
those of the back of a bar of 50 by 50 mm loaded in the middle of its span: the moment falls to both
sides, the stress falls inwards, and the yielding belly draws the stress of the back out to a peak,
so that its V_0, `bar_volume`, is that of one to three cubic centimetres stretched evenly.  The back
of a bow comes to four to twenty times as much, and its wood bears 0.73 to 0.88 of it.

The exponent is that of the scatter inside a piece.  What one piece differs from the next by
(``cov`` of a strength) moves all links alike and has no effect of size; the two are kept apart.

References
----------
W. Weibull, A statistical theory of the strength of materials (1939) (from memory).  B. Bohannan,
Effect of size on bending strength of wood members, FPL 56 (1966), and ASTM D245: bending strength
of clear beams goes with (2 in / depth)^(1/9) (from memory, good).  Bars of this law, their belly
yielding, follow that with an exponent of 9, and it makes the tension strengths of ash, elm and yew
those of pieces pulled apart (`tests/verification/test_bohannan_1966.py`, `test_lohmann_2003.py`);
8 to 12 is what is used of clear wood (from memory, fair).
"""

from __future__ import annotations

from math import exp, lgamma, log, sqrt

import numpy as np

from limbfe.errors import MaterialError
from limbfe.frames import Array
from limbfe.wood.bar import bar_of, bent_to, torn_at
from limbfe.wood.wood import Wood

SHAPE = 9.0
"""Weibull's exponent of tension along the grain inside a piece: a scatter of 13 %."""
BAR_SIDE, BAR_SPAN = 0.050, 0.710
"""m, of the bar of ASTM D143 (from memory)."""
_POINTS = 400


def joint_use(used: Array, parts: Array, shape: float = SHAPE) -> float:
    """Return the strength used by many parts together, 1 where their whole fails on average.

    Parameters
    ----------
    used : ndarray
        Stress over strength, 0 and more.
    parts : ndarray, of the same shape
        Volume of each part over that behind its strength.
    shape : float
        Weibull's exponent.
    """
    top = float(used.max(initial=0.0))
    if top <= 0.0:
        return 0.0
    return float(top * np.sum(parts * (used / top) ** shape) ** (1.0 / shape))


def weakest_scatter(shape: float) -> float:
    """Return the coefficient of variation of Weibull's distribution of a shape, above 0."""
    return sqrt(max(exp(lgamma(1.0 + 2.0 / shape) - 2.0 * lgamma(1.0 + 1.0 / shape)) - 1.0, 0.0))


def weibull_shape(scatter: float) -> float:
    """Return the shape of a Weibull distribution with a coefficient of variation.

    The exponent across the grain and in shear, where the scatter inside a piece is what is known.
    Valid for 0.005 to 1.5; outside raises MaterialError.
    """
    if not 0.005 <= scatter <= 1.5:
        raise MaterialError(f"scatter: coefficient of variation {scatter} must lie in 0.005 to 1.5")
    low, high = log(0.5), log(400.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        if weakest_scatter(exp(middle)) > scatter:
            low = middle
        else:
            high = middle
    return exp(0.5 * (low + high))


def bar_volume(
    wood: Wood, shape: float = SHAPE, side: float = BAR_SIDE, span: float = BAR_SPAN
) -> float:
    """Return the volume, m3, which stretched evenly breaks on average where the standard bar does.

    Parameters
    ----------
    wood : Wood
    shape : float
        Weibull's exponent.
    side, span : float, m
        Of a square bar loaded in the middle of its span.

    Notes
    -----
    The moment falls evenly from the middle to the supports, so as much length goes with every
    part of the nominal stress; where that is s the back bears t down to the depth d of the neutral
    plane, and the depth adds ``d / (shape + 1)``.
    """
    bar = bar_of(wood)
    last = float(torn_at(bar, wood.strength.tension))
    s, t, d = bent_to(bar, last * np.linspace(0.0, 1.0, _POINTS + 1)[1:])
    s = np.concatenate([[0.0], np.maximum.accumulate(s)])
    at = np.concatenate([[0.0], d * (t / t[-1]) ** shape])
    share = float(np.sum(0.5 * (at[1:] + at[:-1]) * np.diff(s)) / s[-1])
    return side**2 * span * share / (shape + 1.0)
