"""Chance that clear wood breaks in tension, in closed form but for one integral."""

from __future__ import annotations

from math import erf, lgamma, log, log1p, sqrt

import numpy as np

from limbfe.failure.probability import JCSS_CORRELATION, MODEL_SCATTER, lognormal_correlation
from limbfe.wood.weakest_link import SHAPE, weakest_scatter

_REACH, _POINTS = 8.0, 401


def clear_chance(
    used: float, modulus: float, tension: float, model: float = MODEL_SCATTER
) -> float:
    """Return the chance that clear wood breaks which uses so much of its tension strength.

    Parameters
    ----------
    used : float
        Of all links together, at mean strength (`limbfe.wood.weakest_link.joint_use`).
    modulus, tension : float
        Coefficients of variation of E along the grain and of tension strength.
    model : float
        Of the calculation itself.

    Notes
    -----
    As `limbfe.failure.probability.failure_probability` has the limb without its zone: stress goes
    with the modulus, the weakest link scatters by Weibull's law inside a piece, what is left of the
    tension strength's variation is between pieces.  That finds it from random staves; here links
    are added up in closed form, and only what moves all of them alike is integrated.
    """
    if used <= 0.0:
        return 0.0
    within = weakest_scatter(SHAPE)
    cov = np.array([modulus, sqrt(max(tension**2 - within**2, 0.0)), 0.0, 0.0])
    correlation = lognormal_correlation(JCSS_CORRELATION, cov)[0, 1]
    e, t, m = (sqrt(log1p(one**2)) for one in (cov[0], cov[1], model))
    mean = log(used) + 0.5 * (m**2 + t**2 - e**2)
    spread = sqrt(e**2 + t**2 - 2.0 * float(correlation) * e * t + m**2)
    if tension <= within:
        return float(mean > 0.0) if spread == 0.0 else 0.5 * (1.0 + erf(mean / spread / sqrt(2.0)))
    normal = np.linspace(-_REACH, _REACH, _POINTS)
    weight = np.exp(-0.5 * normal**2)
    links = np.exp(SHAPE * (mean + spread * normal + lgamma(1.0 + 1.0 / SHAPE)))
    return float(np.sum(weight * -np.expm1(-links)) / np.sum(weight))


def in_hundred(chance: float) -> str:
    """Return a chance as so many in 100, as many figures as mean something."""
    value = 100.0 * chance
    if value < 0.1:
        return "fewer than 0.1"
    return f"{value:.0f}" if value >= 10.0 else f"{value:.1f}"
