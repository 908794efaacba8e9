"""A root between two points, by Brent's method.

SciPy's own stands in `scipy.optimize`, which loads optimisation of every kind, special functions
and Fourier transforms: a third of a second before a bow is assessed.  The tests hold this to
SciPy's.

References
----------
R. P. Brent, Algorithms for Minimization without Derivatives (1973), chapter 4 (from memory; as in
SciPy).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

MOST = 100
"""Steps: bisection alone would narrow down any two numbers in fewer than 64."""


def find_root(
    function: Callable[[float], float],
    low: float,
    high: float,
    *,
    within: float,
    relative: float = 4.0 * float(np.finfo(float).eps),
) -> float:
    """Return where a continuous function changes its sign.

    Parameters
    ----------
    function : callable
    low, high : float
        Points with values of unlike sign, or a root.
    within, relative : float
        The root is found to ``within + relative |root|``.

    Raises
    ------
    ValueError
        If the values at both points have the same sign, or one between them is no number.
    RuntimeError
        If the steps have no end.
    """
    before, best = float(low), float(high)
    at_before, at_best = float(function(before)), float(function(best))
    if at_before == 0.0:
        return before
    if at_best == 0.0:
        return best
    if (at_before > 0.0) == (at_best > 0.0):
        raise ValueError(f"no change of sign between {low:g} ({at_before:g}) and {high:g}")
    other, at_other = before, at_before
    last = step = best - before
    for _ in range(MOST):
        if (at_before > 0.0) != (at_best > 0.0):
            other, at_other = before, at_before
            last = step = best - before
        if abs(at_other) < abs(at_best):
            before, best, other = best, other, best
            at_before, at_best, at_other = at_best, at_other, at_best
        enough = 0.5 * (within + relative * abs(best))
        half = 0.5 * (other - best)
        if at_best == 0.0 or abs(half) < enough:
            return best
        tried = half
        if abs(last) > enough and abs(at_best) < abs(at_before):
            tried = _interpolated((before, best, other), (at_before, at_best, at_other))
        if 2.0 * abs(tried) < min(abs(last), 3.0 * abs(half) - enough):
            last, step = step, tried
        else:
            last = step = half
        before, at_before = best, at_best
        best += step if abs(step) > enough else np.copysign(enough, half)
        at_best = float(function(best))
        if np.isnan(at_best):
            raise ValueError(f"no number is found at {best:g}, between {low:g} and {high:g}")
    raise RuntimeError(f"no root was found between {low:g} and {high:g} in {MOST} steps")


def _interpolated(points: tuple[float, float, float], values: tuple[float, float, float]) -> float:
    """Return the step from the second point to the root of a line or an inverse parabola."""
    before, best, other = points
    at_before, at_best, at_other = values
    if before == other:
        return -at_best * (best - before) / (at_best - at_before)
    slope_before = (at_before - at_best) / (before - best)
    slope_other = (at_other - at_best) / (other - best)
    return (
        -at_best
        * (at_other * slope_other - at_before * slope_before)
        / (slope_other * slope_before * (at_other - at_before))
    )
