"""Quick bows whose chance is known in closed form, and what varies.

With strengths and stiffness lognormal and nothing else, the logarithm of the strength used is
normal, so the chance of a break is a value of the normal distribution (closed form).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from limbfe.errors import CaseError, MaterialError
from limbfe.failure.indices import variance_indices
from limbfe.failure.probability import (
    MODEL_SCATTER,
    Beside,
    Demand,
    Demands,
    Scatter,
    failure_probability,
)
from limbfe.studies.chance.asked import Asked
from limbfe.studies.chance.bows import BY_STATION, FULL, WAY, Site
from limbfe.studies.chance.design import (
    ONE,
    WEAK,
    QuickBow,
    _features,
    design,
    quick_bow,
    way_lengths,
)
from limbfe.studies.chance.inputs import (
    ALONG,
    ALONG_LENGTH,
    Errors,
    build_inputs,
    factors,
    hats,
)
from limbfe.studies.chance.quick import NEVER, Chances, first_reached, quick_bows
from limbfe.studies.chance.told import _at_draw, sampled, spread_of
from limbfe.studies.chance.zones import ZoneTable
from limbfe.wood.weakest_link import SHAPE

from ... import invented_bow

COV = {
    "E_L": 0.2, "tension_strength": 0.1, "compression_strength": 0.15,
    "tension_strength_across": 0.25, "shear_strength": 0.15,
}  # fmt: skip
NO_ZONES = (np.zeros(5), (), np.zeros(0))


def setup(**cov):
    bow = invented_bow.make_setup()
    wood = bow.stave.heartwood
    wood = replace(wood, strength=replace(wood.strength, cov={**COV, **cov}))
    return replace(bow, stave=replace(bow.stave, heartwood=wood, knots=(), decays=()))


def unbent(inputs, used=0.7, stations=5):
    """A bow whose shape nothing changes, its back evenly stretched at `used` of its strength."""
    columns, reached = 3 + 2 * len(inputs.nodes), len(WAY)
    wide = {
        "force": reached,
        "sites": 0,
        "set": 1,
        "speed": 1,
        **dict.fromkeys(BY_STATION, reached * stations),
    }
    rows = _features(np.zeros((1, columns)), False).shape[1]
    bow = QuickBow(
        spread=np.ones(columns), many=False, reached=reached,
        terms={name: np.zeros((rows, size)) for name, size in wide.items()},
        error={name: np.zeros(1 if name in ONE else reached) for name in wide},
        by_belly={name: np.zeros((2, 1 if name in ONE else reached)) for name in wide},
        drawn=1, failed=0, least=-np.inf, reason="",
    )  # fmt: skip
    lengths = way_lengths(0.2, 0.7, reached)
    low = np.full((reached, stations), -30.0)
    # the same use at every draw: only whether it breaks matters here
    links = np.full((reached, stations), np.log(used) - np.log(stations) / SHAPE)
    return Chances(
        inputs=inputs, bow=bow, lengths=lengths, force=np.linspace(0.0, 200.0, reached), kept=0.02,
        speed=50.0,
        used={**dict.fromkeys(BY_STATION, low), "links": links}, x=np.linspace(-0.8, 0.8, stations),
        sites=np.zeros((reached, 0)), zones=(),
    )  # fmt: skip


def test_the_linear_case_is_normal():
    """Stiffness and the model scatter: ln(use) = ln 0.7 + n(0, s_E) - n(0, s_model), its means."""
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    assert not inputs.luck  # 0.1 is less than a weakest link scatters by itself
    inputs = replace(inputs, along=0.0 * inputs.along)
    bows = sampled(unbent(inputs), 60_000, 3)
    s2 = np.log1p(np.array([0.2, 0.1]) ** 2)
    mean = np.log(0.7) - 0.5 * s2[0] + 0.5 * s2[1]
    exact = stats.norm.sf(0.0, loc=mean, scale=np.sqrt(s2.sum()))
    found = (bows.first < NEVER).mean()
    assert found == pytest.approx(exact, abs=4.0 * np.sqrt(exact / 60_000))
    assert bows.used.mean() == pytest.approx(mean, abs=4e-3)
    assert np.log(bows.force[:, FULL]).std() == pytest.approx(np.sqrt(s2[0]), rel=1.2e-2)


def test_indices_of_the_linear_case():
    """Of a sum of normals each has its share of the variance, first and total alike."""
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    chances = unbent(replace(inputs, along=0.0 * inputs.along))
    first, second = np.random.default_rng(4).standard_normal((2, 8_000, chances.columns))
    found = variance_indices(
        lambda u: {"failure": quick_bows(chances, u).used}, chances.groups, first, second
    )["failure"]
    s2 = np.log1p(np.array([0.2, 0.1]) ** 2)
    for name, share in (("stiffness", s2[0] / s2.sum()), ("the model", s2[1] / s2.sum())):
        assert found[name].first == pytest.approx(share, abs=0.04)
        assert found[name].total == pytest.approx(share, abs=0.04)
    assert found["thickness"].total == 0.0


def test_stiffer_bows_shoot_faster_by_the_root():
    """Of shapes that nothing changes: ln v = ln 50 + half of ln E; closed."""
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    chances = unbent(replace(inputs, along=0.0 * inputs.along))
    bows, force = sampled(chances, 4000, 3), chances.force[FULL]
    assert bows.speed == pytest.approx(50.0 * np.sqrt(bows.force[:, FULL] / force))


def test_no_scatter_gives_the_bow_of_the_case_exactly():
    inputs = build_inputs(setup(), Errors(scatter=0.0), *NO_ZONES)
    chances = unbent(inputs)
    bows = sampled(chances, 1000, 8)
    assert np.all(bows.force == chances.force)
    assert np.all(bows.kept == 0.02)
    assert np.all(bows.speed == 50.0)
    assert bows.used == pytest.approx(np.full(1000, np.log(0.7)), abs=1e-12)


def test_the_same_seed_gives_the_same_bows_and_another_others():
    chances = unbent(build_inputs(setup(), Errors(), *NO_ZONES))
    one, same, other = (sampled(chances, 3000, seed).force for seed in (1, 1, 2))
    assert np.array_equal(one, same)
    assert not np.array_equal(one, other)
    # a longer run begins with the shorter one's whole batches
    assert np.array_equal(sampled(chances, 5000, 1).force[:2000], one[:2000])


def test_stiffness_along_the_limb_has_its_covariance():
    """exp(-distance / length) at the nodes, from the samples' own covariance."""
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    u = np.random.default_rng(2).standard_normal((60_000, inputs.count))
    field = factors(inputs, u).field
    apart = np.abs(inputs.nodes[:, None] - inputs.nodes)
    exact = ALONG**2 * np.exp(-apart / ALONG_LENGTH)
    assert np.cov(field.T) == pytest.approx(exact, abs=0.02 * ALONG**2)


def test_an_error_everywhere_is_kept_and_one_at_a_station_stays_small():
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    everywhere = inputs.onto @ np.ones(len(inputs.measured))
    assert everywhere == pytest.approx(np.ones(len(inputs.nodes)), abs=1e-6)
    # the mean along the limb of one station's error is its own share of the limb
    x = np.linspace(inputs.nodes[4], inputs.nodes[-1], 500)
    one = np.zeros(len(inputs.measured))
    one[-3] = 1.0
    mean = (hats(inputs.nodes, x) @ (inputs.onto @ one)).mean()
    exact = np.interp(x, inputs.measured, one).mean()
    assert mean == pytest.approx(exact, rel=0.02)


def test_weakest_spots_have_mean_one_and_weibulls_scatter():
    inputs = build_inputs(setup(tension_strength=0.25), Errors(), *NO_ZONES)
    assert inputs.luck
    u = np.random.default_rng(2).standard_normal((200_000, inputs.count))
    luck = factors(inputs, u).luck
    exact = stats.weibull_min(SHAPE)
    assert luck.mean() == pytest.approx(1.0, abs=2e-3)
    assert luck.std() == pytest.approx(exact.std() / exact.mean(), rel=0.01)


def test_the_middle_of_everything_changes_nothing_and_opposites_are_opposite():
    """What is normal is so about zero: opposite draws are opposite, twice a draw is twice that."""
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    u = np.random.default_rng(3).standard_normal((6, inputs.count))
    middle, there, opposite, twice = (factors(inputs, some) for some in (0.0 * u, u, -u, 2.0 * u))
    for name in ("law", "string", "field", "width", "thickness", "archer"):
        value = getattr(there, name)
        assert np.all(value != 0.0), name
        assert np.all(getattr(middle, name) == 0.0), name
        np.testing.assert_allclose(getattr(opposite, name), -value, rtol=1e-12)
        np.testing.assert_allclose(getattr(twice, name), 2.0 * value, rtol=1e-12)
    # a median below the mean of 1, by half the variance of the logarithm
    for name in ("toughness", "model"):
        low, high = getattr(opposite, name), getattr(there, name)
        np.testing.assert_allclose(low * high, getattr(middle, name) ** 2, rtol=1e-12)
        assert np.all(getattr(middle, name) < 1.0), name
    np.testing.assert_allclose(there.logs + opposite.logs, 2.0 * middle.logs, atol=1e-12)


def test_contradictory_spreads_are_refused():
    """Two lognormal variables of vast spread cannot both go with one that hardly scatters."""
    cov = {
        "E_L": 0.9, "tension_strength": 0.135, "compression_strength": 0.02,
        "tension_strength_across": 0.006, "shear_strength": 0.985,
    }  # fmt: skip
    with pytest.raises(MaterialError, match="contradict"):
        build_inputs(setup(**cov), Errors(), *NO_ZONES)


@pytest.mark.parametrize("name", ["calliper", "tape", "archer", "scatter"])
@pytest.mark.parametrize("value", [-1e-3, np.nan, np.inf])
def test_spreads_that_are_none_are_refused(name, value):
    with pytest.raises(CaseError, match=name):
        Errors(**{name: value})


def test_an_error_of_half_the_limb_is_refused():
    with pytest.raises(CaseError, match="tenth of the least"):
        build_inputs(setup(), Errors(calliper=6e-3), *NO_ZONES)


def test_the_first_failure_lies_between_two_draws_or_just_beyond():
    lengths, sound = np.array([0.2, 0.5, 0.7]), np.zeros(5, dtype=bool)
    used = np.array(
        [
            [-1.0, -0.5, 0.5],
            [-1.0, -0.9, -0.1],
            [0.1, 0.2, 0.3],
            [-1.0, 1.0, 0.0],
            [-1.0, -0.9, -0.8],
        ]
    )
    found = first_reached(lengths, used, sound)
    assert found == pytest.approx([0.6, 0.725, 0.2, 0.35, NEVER])
    assert first_reached(lengths, used[4:], ~sound[:1]) == pytest.approx([0.2])


def test_polynomials_find_a_polynomial():
    """Results that are of the kind the polynomials have are found exactly, left-out errors zero."""
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    points, spread = design(inputs, 120)
    x = points / spread
    shape = 0.1 * x[:, 0] - 0.02 * x[:, 0] ** 3 + 0.03 * x[:, 0] * x[:, 4] + 0.01 * x[:, 5] ** 2

    def result(value):
        return {
            "reached": 8, "force": [value] * 8, "sites": [[]] * 8, "set": 0.01 + value,
            "speed": 3.0 + 0.5 * value,
            **{name: [[value, 2.0 * value]] * 8 for name in BY_STATION},
        }  # fmt: skip

    bow = quick_bow(points, spread, result(0.0), [result(v) for v in shape], "")
    assert bow.many
    assert bow.error["force"].max() < 1e-6
    assert bow.at(points, ("crush",))["crush"][:, 1] == pytest.approx(2.0 * shape, abs=1e-6)
    assert bow.at(points, ("speed",))["speed"][:, 0] == pytest.approx(0.5 * shape, abs=1e-6)
    unshot = [{**result(v), "speed": None if k % 3 else 3.0} for k, v in enumerate(shape)]
    assert "speed" not in quick_bow(points, spread, result(0.0), unshot, "").terms
    lacking = [None if k % 3 == 0 else result(v) for k, v in enumerate(shape)]
    assert quick_bow(points, spread, result(0.0), lacking, "soft").failed == 40


@pytest.mark.parametrize("held", [None, 0.62])
def test_rare_failures_of_bows_that_have_held_are_in_closed_form(held):
    """ln(use) = ln 0.36 + 2 (draw - 0.7) + normal: P(by 0.7, not by h) / P(not by h)."""
    inputs = build_inputs(setup(), Errors(archer=0.0), *NO_ZONES)
    plain = unbent(replace(inputs, along=0.0 * inputs.along), used=0.36)
    rise = 2.0 * (plain.lengths - plain.full)
    used = {**plain.used, "links": plain.used["links"] + rise[:, None]}
    chances = replace(plain, used=used)
    asked = Asked(samples=20_000, seed=2, held=held, spread=inputs.spread)
    bows = sampled(chances, asked.samples, asked.seed)
    kept = np.ones(asked.samples, bool) if held is None else bows.first > held
    found, rare = _at_draw(chances, bows, kept, asked)
    s2 = np.log1p(np.array([0.2, 0.1]) ** 2)
    mean, sd = np.log(0.36) - 0.5 * s2[0] + 0.5 * s2[1], np.sqrt(s2.sum())
    by_full = stats.norm.sf(0.0, loc=mean, scale=sd)
    by_held = stats.norm.sf(2.0 * (chances.full - (held or -9.0)), loc=mean, scale=sd)
    exact = (by_full - by_held) / (1.0 - by_held)
    assert 1e-7 < exact < 1e-4
    assert 0.0 < rare["any"] < 0.5
    share = found["any"]
    assert share.low < exact < share.high
    assert share.value == pytest.approx(exact, rel=0.5)


def test_errors_of_weak_bellies_are_told_apart():
    """Off by 0.2 where the belly is weak: an error of 0.2 there, next to none elsewhere."""
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    points, spread = design(inputs, 300)
    weak = points[:, 0] < WEAK[0] * spread[0]
    sign = np.where(np.arange(300) % 2, 0.2, -0.2)

    def result(value):
        return {
            "reached": 8, "force": [value] * 8, "sites": [[]] * 8, "set": 0.01 + value,
            "speed": 3.0 + 0.5 * value,
            **{name: [[value, 2.0 * value]] * 8 for name in BY_STATION},
        }  # fmt: skip

    bow = quick_bow(points, spread, result(0.0), [result(v) for v in np.where(weak, sign, 0.0)], "")
    one_weak, one_sound = np.zeros((2, len(spread)))
    one_weak[0], one_sound[0] = -2.0 * spread[0], 0.5 * spread[0]
    off = bow.off(np.stack([one_weak, one_sound]), "force")[:, FULL]
    assert off[0] == pytest.approx(0.2, rel=0.35)
    assert off[1] < 0.04


@pytest.mark.parametrize("clear", [0.2, 0.74])
def test_a_zone_has_one_chance_here_and_in_its_verdict(clear):
    """With nothing varying but what a verdict lets vary, both give the same chance.

    `limbfe.failure.probability.failure_probability`, written apart, with its own samples.  Beside
    it, clear wood elsewhere may break though the zone holds: that counts here, by its own chance at
    the most.
    """
    extra, wood = 0.15, setup(tension_strength=0.25).stave.heartwood.strength.cov
    scatter = Scatter(
        modulus=wood["E_L"], tension=wood["tension_strength"],
        tension_across=wood["tension_strength_across"], shear=wood["shear_strength"],
        model=MODEL_SCATTER, volume_split=1e-5, within=0.6,
    )  # fmt: skip
    demands = Demands(
        rupture=Demand(low=0.7, typical=0.75, high=0.9, fibre=1.0),
        splits=(
            Demand(low=0.3, typical=0.5, high=0.6, toughness=1.0),
            Demand(low=0.3, typical=0.4, high=0.5, opening=0.9, sliding=0.6),
        ),
        scatter=scatter,
        beside=Beside(clear=clear, extra=extra),
    )
    asked = failure_probability(
        demands.rupture, demands.splits, scatter, np.random.default_rng(1), demands.beside
    )
    inputs = build_inputs(
        setup(tension_strength=0.25), Errors(calliper=0.0, tape=0.0, archer=0.0), np.zeros(5),
        ("knot",), np.array([extra]),
    )  # fmt: skip
    inputs = replace(inputs, along=0.0 * inputs.along)
    table = ZoneTable(
        name="A", kind="knot", at=0.3, demands=demands, sizes=np.array([-0.2, 0.0, 0.2]),
        rupture=np.zeros(3), split=np.zeros(3),
        site=Site(stations=np.array([2, 3]), y=0.0, z=0.0),
    )  # fmt: skip
    plain = unbent(inputs, used=clear)
    terms = dict(plain.bow.terms)
    terms["sites"] = np.zeros((len(terms["sites"]), len(WAY)))
    chances = replace(
        plain, zones=(table,), sites=np.zeros((len(WAY), 1)), bow=replace(plain.bow, terms=terms)
    )
    count = 40_000
    found = float((sampled(chances, count, 5).first < NEVER).mean())
    exact = float((asked.demand > 1.0).mean())
    off = 4.0 * np.sqrt(exact * 2.0 / count)
    assert exact - off < found < exact + asked.clear + off


def test_bands_of_percentiles_hold():
    """The 95th percentile of a normal distribution lies in its band in 93 to 97 of 100 repeats."""
    rng = np.random.default_rng(9)
    exact, held = stats.norm.ppf(0.95), []
    for _ in range(600):
        low, high = spread_of(rng.standard_normal(800), 0.0).off["p95"]
        held.append(low <= exact <= high)
    assert 0.93 <= np.mean(held) <= 0.97
