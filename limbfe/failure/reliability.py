"""Chances of failure by numbers: bands of a counted share, and subset simulation of rare ones.

References
----------
E. B. Wilson, Probable inference, the law of succession, and statistical inference, Journal of the
American Statistical Association 22 (1927) 209-212 (from memory).
S.-K. Au, J. L. Beck, Estimation of small failure probabilities in high dimensions by subset
simulation, Probabilistic Engineering Mechanics 16 (2001) 263-277 (from memory).
I. Papaioannou, W. Betz, K. Zwirglmaier, D. Straub, MCMC algorithms for subset simulation,
Probabilistic Engineering Mechanics 41 (2015) 89-103: conditional sampling (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import LimbfeError
from limbfe.frames import Array

SURE = 1.96
"""Standard deviations either way that hold 95 in 100 of a normal distribution."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A chance, and between which bounds the chance itself lies, 95 in 100."""

    value: float
    low: float
    high: float

    def to_dict(self) -> dict[str, float]:
        """Return the three numbers."""
        return {"value": self.value, "low": self.low, "high": self.high}


def counted_share(count: float, of: float) -> Share:
    """Return the share that `count` of `of` samples are, with Wilson's 95 % bounds.

    Examples
    --------
    >>> share = counted_share(5, 100)
    >>> f"{share.value:.3f} {share.low:.4f} {share.high:.4f}"
    '0.050 0.0215 0.1118'
    """
    if of <= 0.0:
        return Share(value=float("nan"), low=0.0, high=1.0)
    share, z2 = count / of, SURE**2
    middle = (share + 0.5 * z2 / of) / (1.0 + z2 / of)
    half = SURE / (1.0 + z2 / of) * np.sqrt(share * (1.0 - share) / of + 0.25 * z2 / of**2)
    low, high = max(middle - half, 0.0), min(middle + half, 1.0)
    return Share(
        value=share, low=0.0 if count == 0 else float(low), high=1.0 if count == of else float(high)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class RareShare:
    """A small chance from subset simulation.

    Attributes
    ----------
    share : Share
        Bounds from `scatter`, as of a lognormal estimate.
    scatter : float
        Coefficient of variation of the estimate itself, correlation in the chains counted.
    levels : int
        Subsets gone through.
    samples : int
        Evaluations in all.
    """

    share: Share
    scatter: float
    levels: int
    samples: int


def subset_simulation(
    margin: Callable[[Array], Array],
    dimensions: int,
    rng: np.random.Generator,
    *,
    count: int = 4000,
    step: float = 0.1,
    most_levels: int = 12,
) -> RareShare:
    """Return the chance that ``margin(u) >= 0`` for independent standard normal u.

    Parameters
    ----------
    margin : callable
        From samples (n, `dimensions`) to (n,); grows towards failure.
    dimensions : int
    rng : numpy.random.Generator
    count : int
        Samples of a level.
    step : float
        Share that a level keeps.
    most_levels : int
        After these the chance is below ``step**most_levels`` and its upper bound is said.

    Raises
    ------
    LimbfeError
        If a margin is no number.

    Notes
    -----
    Chains move by ``v = rho u + sqrt(1 - rho^2) xi``, which leaves the normal distribution as it
    is; they start at every sample kept, so that they are short, and the scatter of a level counts
    the correlation between the steps of its chains (Au and Beck 2001, eq. 29; from memory).
    """
    kept = max(round(step * count), 2)
    u = rng.standard_normal((count, dimensions))
    g = _checked(margin(u))
    chance, variance, samples = 1.0, 0.0, count
    chains = np.arange(count)[:, None]
    for level in range(most_levels):
        threshold = float(np.partition(g, count - kept)[count - kept])
        hit = g >= min(threshold, 0.0)
        share = float(hit.mean())
        chance *= share
        variance += _spread(hit[chains], share)
        if threshold >= 0.0:
            scatter = float(np.sqrt(variance))
            wide = _widened(variance)
            share_of = Share(value=chance, low=chance / wide, high=min(chance * wide, 1.0))
            return RareShare(share=share_of, scatter=scatter, levels=level, samples=samples)
        seeds = np.flatnonzero(hit)
        u, g, chains = _grown(margin, u[seeds], g[seeds], threshold, count, rng)
        samples += count - len(seeds)
        count = len(g)
        kept = max(round(step * count), 2)
    return RareShare(
        share=Share(value=0.0, low=0.0, high=min(chance * _widened(variance), 1.0)),
        scatter=float("inf"),
        levels=most_levels,
        samples=samples,
    )


_RHO = 0.8


def _widened(variance: float) -> float:
    """Return the factor to the 95 % bounds of a lognormal estimate of that squared scatter."""
    return float(np.exp(SURE * np.sqrt(np.log1p(variance))))


def _grown(
    margin: Callable[[Array], Array],
    seeds: Array,
    values: Array,
    threshold: float,
    count: int,
    rng: np.random.Generator,
) -> tuple[Array, Array, NDArray[np.int_]]:
    """Return `count` samples past a threshold from chains that start at the seeds, all at once."""
    order = rng.permutation(len(seeds))
    length = max(count // len(seeds), 1)
    at, level = seeds[order], values[order]
    us, gs = [at], [level]
    for _ in range(length - 1):
        move = _RHO * at + np.sqrt(1.0 - _RHO**2) * rng.standard_normal(at.shape)
        found = _checked(margin(move))
        taken = found >= threshold
        at, level = np.where(taken[:, None], move, at), np.where(taken, found, level)
        us.append(at)
        gs.append(level)
    chains = np.arange(length * len(at)).reshape(length, len(at)).T
    return np.concatenate(us), np.concatenate(gs), chains


def _spread(hit: NDArray[np.bool_], share: float) -> float:
    """Return the squared coefficient of variation of a level's share; chains are rows of `hit`."""
    n, (_, length) = hit.size, hit.shape
    if share >= 1.0 or share <= 0.0:
        return 0.0
    away = hit - share
    gamma = 0.0
    for lag in range(1, length):
        both = float((away[:, lag:] * away[:, :-lag]).mean()) / (share * (1.0 - share))
        gamma += 2.0 * (1.0 - lag / length) * both
    return (1.0 - share) / (share * n) * (1.0 + max(gamma, 0.0))


def _checked(values: Array) -> Array:
    if np.isnan(values).any():
        raise LimbfeError("subset simulation: a margin is no number")
    return values
