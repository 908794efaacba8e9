"""Bands of counted chances, and rare chances by subset simulation.

Coverage: the 95 % band of a binomial share holds in 93 to 97 of 100 repeats, worked out exactly
over the binomial distribution.  Subset simulation: the linear limit ``sum(u) >= beta sqrt(n)`` has
the chance Phi(-beta) in any number of dimensions (closed form; the example of Au and Beck 2001,
from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from limbfe.errors import LimbfeError
from limbfe.failure.reliability import counted_share, subset_simulation


@pytest.mark.parametrize("chance", [0.01, 0.037, 0.2, 0.5])
def test_bands_of_a_share_hold_95_of_100(chance):
    of = 2000
    counts = np.arange(of + 1)
    weight = stats.binom.pmf(counts, of, chance)
    likely = counts[weight > 1e-12]
    shares = {int(k): counted_share(int(k), of) for k in likely}
    held = sum(weight[k] for k, one in shares.items() if one.low <= chance <= one.high)
    assert 0.93 <= held <= 0.97


def test_nothing_counted_still_has_an_upper_bound():
    """The rule of three: none in n leaves about 3 / n (95 % one-sided), 3.8 / n two-sided."""
    share = counted_share(0, 1000)
    assert share.value == share.low == 0.0
    assert share.high == pytest.approx(3.84e-3, rel=0.01)
    assert counted_share(1000, 1000).high == 1.0


def linear(beta, dimensions):
    return lambda u: u.sum(axis=1) / np.sqrt(dimensions) - beta


@pytest.mark.parametrize(("beta", "dimensions"), [(2.0, 30), (4.0, 30), (5.0, 8)])
def test_a_rare_chance_is_that_of_the_closed_form(beta, dimensions):
    """The mean of 20 repeats within 3 of its own standard deviations, the band's own size right."""
    exact = stats.norm.sf(beta)
    found = [
        subset_simulation(
            linear(beta, dimensions), dimensions, np.random.default_rng(seed), count=1000
        )
        for seed in range(20)
    ]
    values = np.array([one.share.value for one in found])
    off = values.std(ddof=1) / np.sqrt(len(values))
    assert abs(values.mean() - exact) < 3.0 * off
    assert np.mean([one.share.low <= exact <= one.share.high for one in found]) >= 0.8
    said = np.mean([one.scatter for one in found])
    assert 0.5 < said / (values.std(ddof=1) / values.mean()) < 1.6
    # counting would need 1 / (chance scatter^2) samples to be as sure
    plain = 1.0 / (exact * said**2)
    assert beta < 3.0 or np.mean([one.samples for one in found]) < 0.1 * plain


def test_it_agrees_with_plain_counting_where_both_run():
    margin, rng = linear(1.8, 12), np.random.default_rng(5)
    plain = counted_share(int((margin(rng.standard_normal((100_000, 12))) >= 0.0).sum()), 100_000)
    found = subset_simulation(margin, 12, np.random.default_rng(6))
    assert abs(np.log(found.share.value / plain.value)) < 3.0 * found.scatter


def test_what_never_happens_gets_an_upper_bound():
    found = subset_simulation(
        lambda u: -1.0 - np.abs(u[:, 0]), 3, np.random.default_rng(1), count=400, most_levels=5
    )
    assert found.share.value == 0.0
    assert 1e-5 < found.share.high < 0.02


def test_no_number_is_refused():
    with pytest.raises(LimbfeError, match="no number"):
        subset_simulation(lambda u: np.full(len(u), np.nan), 3, np.random.default_rng(1))
