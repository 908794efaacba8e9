"""Chance of failure from the scatter of wood.

References
----------
Joint Committee on Structural Safety, Probabilistic Model Code, part 3.5 Properties of timber
(2006): correlations between properties, lognormal strengths, model uncertainty.
A. Der Kiureghian, P.-L. Liu, Structural reliability under incomplete probability information,
Journal of Engineering Mechanics 112 (1986), 85-104: Nataf's distribution (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import lgamma

import numpy as np

from limbfe.errors import MaterialError
from limbfe.frames import Array, read_only
from limbfe.wood.weakest_link import SHAPE, weakest_scatter

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
MODEL_SCATTER = 0.1
"""Model uncertainty: 0.05 to 0.10 in the code."""


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
    volume_split : float, m3
        Stressed volume of the specimens behind the across-grain strengths.
    within : float
        Part of the variance of log strength, across the grain and in shear, that lies within a
        piece; JCSS gives 0.6.  Along the grain `limbfe.wood.weakest_link.SHAPE` is it.
    """

    modulus: float
    tension: float
    tension_across: float
    shear: float
    model: float
    volume_split: float
    within: float

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            if not (np.isfinite(value) and value >= 0.0):
                raise MaterialError(f"scatter: {name} = {value!r} must be zero or positive")
        if self.within > 1.0 or self.volume_split == 0.0:
            raise MaterialError("scatter: volumes must be positive and `within` at most 1")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Probability:
    """Chance that a limb with a zone ruptures or splits at the judged load.

    Attributes
    ----------
    rupture, split : float
        Of the limb with the zone.
    clear : float
        That the limb ruptures without it.
    demand, without : ndarray, shape (n,), increasing
        Strength used of n random staves by the first of rupture and split, and by rupture without
        the zone; they grow with the load.
    """

    rupture: float
    split: float
    clear: float
    demand: Array
    without: Array

    @property
    def added(self) -> float:
        """What the zone adds to the chance of the clear limb."""
        return float(self._added(np.ones(1))[0])

    def _added(self, factor: Array) -> Array:
        count = len(self.demand)
        failed = [
            count - np.searchsorted(one, 1.0 / factor, side="right")
            for one in (self.demand, self.without)
        ]
        out: Array = np.maximum(failed[0] - failed[1], 0) / count
        return out

    def load_factor(self, chance: float) -> float:
        """Return the least factor on the judged load at which the zone adds that chance."""
        highest = float(self.demand[-1])
        if highest <= 0.0:
            return np.inf
        factor = np.geomspace(0.5 / highest, 1e3 / highest, _FACTORS)
        over = np.flatnonzero(self._added(factor) >= chance)
        if not len(over):
            return np.inf
        low, high = factor[max(over[0] - 1, 0)], factor[over[0]]
        for _ in range(20):
            middle = np.sqrt(low * high)
            if self._added(np.array([middle]))[0] >= chance:
                high = middle
            else:
                low = middle
        return float(high)


_FACTORS = 400


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
    toughness : float
        Part that goes with the root of the toughness along the grain, and of the modulus.
    """

    low: float
    typical: float
    high: float
    fibre: float = 0.0
    opening: float = 0.0
    sliding: float = 0.0
    toughness: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """The limb beside a zone.

    Attributes
    ----------
    clear : float
        Strength used in tension of the limb without the zone, at mean strength.
    extra : float
        Coefficient of variation of its strength with the zone beyond that of clear wood: pieces
        with knots that look alike differ more.
    """

    clear: float = 0.0
    extra: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Demands:
    """All that a zone asks of the wood at the load that was judged, and how the wood scatters.

    Attributes
    ----------
    rupture : Demand
        Of the fibres of the whole limb, the zone in it.
    splits : tuple of Demand
    scatter : Scatter
    beside : Beside
    """

    rupture: Demand
    splits: tuple[Demand, ...]
    scatter: Scatter
    beside: Beside


def failure_probability(
    rupture: Demand,
    splits: tuple[Demand, ...],
    scatter: Scatter,
    rng: np.random.Generator,
    beside: Beside | None = None,
    count: int = 100_000,
) -> Probability:
    """Return the chance of failure from the strength used by every way of failing.

    Parameters
    ----------
    rupture : Demand
        Of the fibres of the whole limb, the zone in it.
    splits : tuple of Demand
        Each of one place: opening and sliding of different places do not add up.
    scatter : Scatter
    rng : numpy.random.Generator
    beside : Beside, optional
        No limb without the zone to compare with if left out.
    count : int
        Random staves; chances below about 10 / count are not resolved.

    Notes
    -----
    At a given draw length stress goes with the modulus.  The band is sampled by a triangular
    distribution of the logarithm, the same draw for all, since a soft knot is soft for all.  The
    scatter of tension inside a piece is that of its weakest link, by Weibull's law with the
    exponent of clear wood; what is left of its coefficient of variation is between pieces.
    """
    beside = beside or Beside()
    within = weakest_scatter(SHAPE)
    between = replace(scatter, tension=float(np.sqrt(max(scatter.tension**2 - within**2, 0.0))))
    multipliers = sample_properties(between, rng, count)

    def lognormal(cov: float) -> Array:
        spread = np.sqrt(np.log1p(cov**2))
        out: Array = np.exp(spread * rng.standard_normal(count) - 0.5 * spread**2)
        return out

    model = lognormal(scatter.model)
    place = rng.triangular(-1.0, 0.0, 1.0, size=count)
    modulus, tension, across, shear = multipliers.T
    if scatter.tension > within:
        tension = tension * rng.weibull(SHAPE, count) / np.exp(lgamma(1.0 + 1.0 / SHAPE))
    toughness, alike = lognormal(TOUGHNESS_SCATTER), lognormal(beside.extra)

    def used(one: Demand) -> Array:
        if one.typical <= 0.0:
            return np.zeros(count)
        down = np.log(max(one.low, 1e-6 * one.typical) / one.typical)
        up = np.log(max(one.high, one.typical) / one.typical)
        level = one.typical * np.exp(np.where(place < 0.0, -place * down, place * up))
        parts = (
            (one.fibre, tension / modulus),
            (one.opening, across / modulus),
            (one.sliding, shear / modulus),
            (one.toughness, np.sqrt(toughness / modulus)),
        )
        whole = np.sqrt(sum((part / strength) ** 2 for part, strength in parts if part > 0.0))
        demand: Array = level / model * whole
        return demand

    broken = used(rupture) / alike
    split = np.maximum.reduce([used(one) for one in splits])
    clear = used(Demand(low=beside.clear, typical=beside.clear, high=beside.clear, fibre=1.0))
    return Probability(
        rupture=float((broken > 1.0).mean()),
        split=float((split > 1.0).mean()),
        clear=float((clear > 1.0).mean()),
        demand=read_only(np.sort(np.maximum(broken, split))),
        without=read_only(np.sort(clear)),
    )


TOUGHNESS_SCATTER = 0.34
"""Coefficient of variation of toughness (Wood Handbook, from memory)."""
