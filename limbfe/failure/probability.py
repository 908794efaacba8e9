"""Chance of failure from the scatter of wood.

References
----------
Joint Committee on Structural Safety, Probabilistic Model Code, part 3.5 Properties of timber
(2006): correlations between properties, lognormal strengths, model uncertainty.
A. Der Kiureghian, P.-L. Liu, Structural reliability under incomplete probability information,
Journal of Engineering Mechanics 112 (1986), 85-104: Nataf's distribution (from memory).
W. Weibull, A statistical theory of the strength of materials (1939): weakest link.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import gammaln

from limbfe.errors import MaterialError
from limbfe.frames import Array, read_only

PROPERTIES = ("modulus", "tension", "tension_across", "shear")
"""Order of the correlation matrix below."""

# Read in the code: tension with tension across .2, tension across with shear .6.  From memory: the
# modulus with all, tension with shear.
JCSS_CORRELATION = np.array(
    [
        [1.0, 0.6, 0.4, 0.4],
        [0.6, 1.0, 0.2, 0.6],
        [0.4, 0.2, 1.0, 0.6],
        [0.4, 0.6, 0.6, 1.0],
    ]
)
JCSS_CORRELATION.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """Coefficients of variation and test volumes.

    Attributes
    ----------
    modulus : float
        Of E along the grain.
    tension, tension_across, shear : float
    model : float
        Of the calculation itself, mean 1; JCSS gives 0.05 to 0.10.
    volume_fibre, volume_split : float, m3
        Stressed volume of the specimens behind the tension and the across-grain strengths.
    within : float
        Part of the variance of log strength that lies within a piece; JCSS gives 0.6.
    """

    modulus: float
    tension: float
    tension_across: float
    shear: float
    model: float
    volume_fibre: float
    volume_split: float
    within: float

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            if not (np.isfinite(value) and value >= 0.0):
                raise MaterialError(f"scatter: {name} = {value!r} must be zero or positive")
        if self.within > 1.0 or self.volume_fibre == 0.0 or self.volume_split == 0.0:
            raise MaterialError("scatter: volumes must be positive and `within` at most 1")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Probability:
    """Chance that a zone ruptures, splits, or does either, at the judged load.

    Attributes
    ----------
    rupture, split, either : float
    demand : ndarray, shape (n,)
        Strength used of n random staves by the first of rupture and split; it grows with the load.
    """

    rupture: float
    split: float
    either: float
    demand: Array

    def load_factor(self, chance: float) -> float:
        """Return the factor on the judged load at which either has that chance."""
        highest = float(np.quantile(self.demand, 1.0 - chance))
        return 1.0 / highest if highest > 0.0 else np.inf


def lognormal_correlation(correlation: Array, cov: Array) -> Array:
    """Return the correlation of the logarithms of lognormal variables (Nataf, exact).

    Parameters
    ----------
    correlation : ndarray, shape (n, n), of the variables themselves
    cov : ndarray, shape (n,), coefficients of variation

    Raises
    ------
    MaterialError
        If no lognormal variables have this correlation.
    """
    sigma = np.sqrt(np.log1p(cov**2))
    product = np.outer(sigma, sigma)
    inner = np.log1p(correlation * np.outer(cov, cov))
    out = np.where(product > 0.0, inner / np.where(product > 0.0, product, 1.0), 0.0)
    np.fill_diagonal(out, 1.0)
    if np.linalg.eigvalsh(out).min() < -1e-9:
        raise MaterialError("scatter: these correlations contradict each other; lower them")
    return out


def sample_properties(scatter: Scatter, rng: np.random.Generator, count: int) -> Array:
    """Return random multipliers of mean 1, shape (count, 4), in the order of `PROPERTIES`."""
    cov = np.array([getattr(scatter, name) for name in PROPERTIES])
    sigma = np.sqrt(np.log1p(cov**2))
    values, vectors = np.linalg.eigh(lognormal_correlation(JCSS_CORRELATION, cov))
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    normal = rng.standard_normal((count, len(cov))) @ root.T
    multipliers: Array = np.exp(normal * sigma - 0.5 * sigma**2)
    return multipliers


def weibull_shape(cov: float) -> float:
    """Return the shape k of a Weibull distribution with a coefficient of variation.

    Valid for 0.005 to 1.5; outside raises MaterialError.
    """
    if not 0.005 <= cov <= 1.5:
        raise MaterialError(f"scatter: coefficient of variation {cov} must lie in 0.005 to 1.5")

    def miss(log_k: float) -> float:
        k = np.exp(log_k)
        ratio = np.exp(gammaln(1.0 + 2.0 / k) - 2.0 * gammaln(1.0 + 1.0 / k))
        return float(np.sqrt(max(ratio - 1.0, 0.0)) - cov)

    return float(np.exp(brentq(miss, np.log(0.5), np.log(400.0))))


def size_factor(stress: Array, volume: Array, test_volume: float, shape: float) -> float:
    """Return the factor by which a stressed volume larger than the specimen lowers strength.

    Parameters
    ----------
    stress : ndarray, shape (n,)
        Window averages, any scale; compression counts nothing.
    volume : ndarray, shape (n,), m3
    test_volume : float, m3
    shape : float
        Weibull's k.

    Returns
    -------
    float
        At most 1.  A volume smaller than the specimen's gains nothing: the window already
        credits a steep stress gradient, and would be counted twice.
    """
    pull = np.maximum(stress, 0.0)
    top = pull.max(initial=0.0)
    if top == 0.0:
        return 1.0
    effective = float(np.sum(volume * (pull / top) ** shape))
    return float(min(1.0, (test_volume / effective) ** (1.0 / shape))) if effective else 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """Strength used at mean strength by one way of failing.

    Attributes
    ----------
    low, typical, high : float
        The band.
    fibre, opening, sliding : float
        Parts of it, as components of a vector, that go with the strength of the fibres, across
        them and in shear along them, each over the size effect on that strength.
    """

    low: float
    typical: float
    high: float
    fibre: float = 0.0
    opening: float = 0.0
    sliding: float = 0.0


def failure_probability(
    rupture: Demand,
    splits: tuple[Demand, ...],
    scatter: Scatter,
    rng: np.random.Generator,
    count: int = 100_000,
) -> Probability:
    """Return the chance of failure from the strength used by every way of failing.

    Parameters
    ----------
    rupture : Demand
        Of the fibres.
    splits : tuple of Demand
        Each of one place: opening and sliding of different places do not add up.
    scatter : Scatter
    rng : numpy.random.Generator
    count : int
        Random staves; chances below about 10 / count are not resolved.

    Notes
    -----
    At a given draw length stress goes with the modulus.  The band is sampled by a triangular
    distribution of the logarithm, the same draw for all, since a soft knot is soft for all.
    """
    multipliers = sample_properties(scatter, rng, count)
    spread = np.sqrt(np.log1p(scatter.model**2))
    model = np.exp(spread * rng.standard_normal(count) - 0.5 * spread**2)
    place = rng.triangular(-1.0, 0.0, 1.0, size=count)
    modulus, tension, across, shear = multipliers.T

    def used(one: Demand) -> Array:
        if one.typical <= 0.0:
            return np.zeros(count)
        down = np.log(max(one.low, 1e-6 * one.typical) / one.typical)
        up = np.log(max(one.high, one.typical) / one.typical)
        level = one.typical * np.exp(np.where(place < 0.0, -place * down, place * up))
        parts = ((one.fibre, tension), (one.opening, across), (one.sliding, shear))
        whole = np.sqrt(sum((part / strength) ** 2 for part, strength in parts if part > 0.0))
        demand: Array = level * modulus / model * whole
        return demand

    broken = used(rupture)
    split = np.maximum.reduce([used(one) for one in splits])
    demand = read_only(np.maximum(broken, split))
    return Probability(
        rupture=float((broken > 1.0).mean()),
        split=float((split > 1.0).mean()),
        either=float((demand > 1.0).mean()),
        demand=demand,
    )
