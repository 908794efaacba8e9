"""Scatter, correlation, volume, chance of failure.

Joint Committee on Structural Safety, Probabilistic Model Code, part 3.5 Properties of timber
(2006): correlations (read); Weibull shape against coefficient of variation: closed form,
recomputed.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.special import gammaln

from limbfe.errors import MaterialError
from limbfe.failure.probability import (
    JCSS_CORRELATION,
    PROPERTIES,
    Beside,
    Demand,
    Scatter,
    failure_probability,
    lognormal_correlation,
    sample_properties,
)
from limbfe.wood.weakest_link import SHAPE, weakest_scatter, weibull_shape

SCATTER = Scatter(
    modulus=0.13,
    tension=0.25,
    tension_across=0.30,
    shear=0.20,
    model=0.10,
    volume_split=3e-5,
    within=0.6,
)


NOTHING = Demand(low=0.0, typical=0.0, high=0.0)


def test_samples_have_the_moments_and_correlations_asked_for():
    sample = sample_properties(SCATTER, np.random.default_rng(3), 400_000)
    cov = [getattr(SCATTER, name) for name in PROPERTIES]
    assert sample.mean(axis=0) == pytest.approx(np.ones(4), abs=2e-3)
    assert sample.std(axis=0) == pytest.approx(cov, rel=1e-2)
    assert np.corrcoef(sample.T) == pytest.approx(JCSS_CORRELATION, abs=1e-2)


def test_read_correlations():
    """Those that the code was read for."""
    at = PROPERTIES.index
    assert JCSS_CORRELATION[at("tension"), at("tension_across")] == 0.2
    assert JCSS_CORRELATION[at("tension_across"), at("shear")] == 0.6
    assert np.array_equal(JCSS_CORRELATION, JCSS_CORRELATION.T)


def test_nataf_of_two_lognormals_is_closed():
    """rho_z = ln(1 + rho d1 d2) / sqrt(ln(1 + d1^2) ln(1 + d2^2)) (Der Kiureghian & Liu 1986)."""
    rho = np.array([[1.0, 0.6], [0.6, 1.0]])
    got = lognormal_correlation(rho, np.array([0.3, 0.5]))[0, 1]
    assert got == pytest.approx(np.log(1.09) / np.sqrt(np.log(1.09) * np.log(1.25)))


def test_contradictory_correlations_are_refused():
    rho = np.array([[1.0, 0.9, -0.9], [0.9, 1.0, 0.9], [-0.9, 0.9, 1.0]])
    with pytest.raises(MaterialError, match="contradict"):
        lognormal_correlation(rho, np.full(3, 0.2))


@pytest.mark.parametrize(
    ("cov", "shape"),
    [(0.10, 12.2), (0.13, 9.2), (0.16, 7.4), (0.20, 5.8), (0.25, 4.5), (0.30, 3.7)],
)
def test_weibull_shape(cov, shape):
    k = weibull_shape(cov)
    assert k == pytest.approx(shape, abs=0.07)
    assert stats.weibull_min.std(k) / stats.weibull_min.mean(k) == pytest.approx(cov, rel=1e-9)


def test_one_mode_alone_is_a_lognormal_tail():
    """Closed form: ln(used E / (X R)) is normal; without a band, within sampling error."""
    used = 0.55
    across = Demand(low=used, typical=used, high=used, opening=1.0)
    got = failure_probability(NOTHING, (across,), SCATTER, np.random.default_rng(11), count=400_000)
    cov = np.array([SCATTER.modulus, SCATTER.tension_across, SCATTER.model])
    s = np.sqrt(np.log1p(cov**2))
    pair = np.ix_((0, 2), (0, 2))
    rho = lognormal_correlation(JCSS_CORRELATION[pair], cov[:2])[0, 1]
    mean = np.log(used) - 0.5 * s[0] ** 2 + 0.5 * s[1] ** 2 + 0.5 * s[2] ** 2
    spread = np.sqrt(s[0] ** 2 + s[1] ** 2 - 2.0 * rho * s[0] * s[1] + s[2] ** 2)
    exact = stats.norm.sf(-mean / spread)
    assert got.split == pytest.approx(exact, abs=4.0 * np.sqrt(exact / 400_000))


def test_scatter_inside_a_piece_is_weibull_and_between_pieces_what_is_left():
    """Closed form with nothing else: P = 1 - exp(-(gamma(1 + 1/k) used)^k) at the scatter of k."""
    within = weakest_scatter(SHAPE)
    steady = replace(
        SCATTER, modulus=1e-9, tension=np.nextafter(within, 1.0), tension_across=1e-9, shear=1e-9,
        model=0.0,
    )  # fmt: skip
    used = 0.8
    fibres = Demand(low=used, typical=used, high=used, fibre=1.0)
    got = failure_probability(fibres, (NOTHING,), steady, np.random.default_rng(3), count=400_000)
    exact = -np.expm1(-((np.exp(gammaln(1.0 + 1.0 / SHAPE)) * used) ** SHAPE))
    assert got.rupture == pytest.approx(exact, abs=4.0 * np.sqrt(exact / 400_000))
    assert within == pytest.approx(
        stats.weibull_min.std(SHAPE) / stats.weibull_min.mean(SHAPE), rel=1e-9
    )


def test_a_zone_adds_what_the_limb_without_it_does_not_have():
    """The same strength used with and without the zone adds nothing; more scatter adds some."""
    fibres = Demand(low=0.7, typical=0.7, high=0.7, fibre=1.0)
    none, some = (
        failure_probability(
            fibres, (NOTHING,), SCATTER, np.random.default_rng(3), Beside(clear=0.7, extra=extra)
        )
        for extra in (0.0, 0.2)
    )
    assert none.added == 0.0
    assert none.clear > 0.01
    assert some.added > 0.005


def test_a_wider_band_raises_a_small_chance():
    narrow, wide = (
        failure_probability(
            Demand(low=low, typical=0.5, high=high, fibre=1.0),
            (NOTHING,),
            SCATTER,
            np.random.default_rng(2),
        )
        for low, high in ((0.5, 0.5), (0.4, 0.8))
    )
    assert wide.rupture > 1.5 * narrow.rupture > 0.0


def test_the_load_of_a_chance_is_the_load_at_which_it_is_met():
    """Same random staves under that load; within the resolution of 100,000 of them."""

    def at(load):
        return failure_probability(
            Demand(low=0.4 * load, typical=0.5 * load, high=0.7 * load, fibre=1.0),
            (
                Demand(
                    low=0.5 * load, typical=0.6 * load, high=0.6 * load, opening=0.8, sliding=0.6
                ),
            ),
            SCATTER,
            np.random.default_rng(4),
        )

    factor = at(1.0).load_factor(0.05)
    assert at(factor).added == pytest.approx(0.05, abs=2e-5)
    assert (
        failure_probability(NOTHING, (NOTHING,), SCATTER, np.random.default_rng(4)).load_factor(
            0.05
        )
        == np.inf
    )


@pytest.mark.parametrize(
    "change", [{"tension": -0.1}, {"within": 1.5}, {"volume_split": 0.0}, {"model": np.nan}]
)
def test_bad_scatter_is_refused(change):
    with pytest.raises(MaterialError, match="scatter"):
        replace(SCATTER, **change)
