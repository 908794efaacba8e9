"""Verdicts on rules from samples made up so that each outcome can and cannot come about."""

from dataclasses import replace

import numpy as np
import pytest

from limbfe.errors import CaseError
from limbfe.report.rules import claim_words, panel, sentence, verdict_words
from limbfe.studies.rules import BowSample, Rule, find_verdict
from limbfe.units import METRIC
from limbfe.view.study.rules import value_limits

RULE = Rule(
    name="made_up",
    words="Twice the salt is twice the taste.",
    label="common practice",
    study="made up",
    varied="salt",
    values=(1.0, 2.0, 4.0),
    at=2.0,
    show_value="factor",
    measured="taste over what the rule says",
    show_measure="ratio",
    low=0.9,
    high=1.1,
    target=1.0,
    loose=0.3,
    trial=lambda bow, value: {"measure": value},
    why="it dissolves",
)


def samples(*columns):
    """Return one sample a bow from one column of measures for each value."""
    return [
        BowSample(bow=f"bow {k}", measure=np.array(row), figures=({},) * len(row))
        for k, row in enumerate(zip(*columns, strict=True))
    ]


def some_off(count, off, of=100):
    """Return measures of which `count` lie at `off` and the rest meet the claim."""
    return np.concatenate([np.full(count, off), np.linspace(0.95, 1.05, of - count)])


@pytest.mark.parametrize(("count", "outcome"), [(5, "holds"), (6, "holds within")])
def test_ninety_five_of_a_hundred_make_a_rule_hold(count, outcome):
    column = some_off(count, 1.2)
    assert find_verdict(RULE, samples(column, column, column)).outcome == outcome


def test_within_is_what_ninety_five_of_a_hundred_keep():
    """|m - 1| of a uniform spread over 0.8 to 1.2 is uniform over 0 to 0.2: its 95th is 0.19."""
    column = np.linspace(0.8, 1.2, 2001)
    found = find_verdict(RULE, samples(column, column, column))
    assert found.outcome == "holds within"
    assert found.within == pytest.approx(0.19, abs=1e-3)
    assert verdict_words(found, METRIC) == "holds within 19 %"
    assert found.low[1] == pytest.approx(0.82, abs=1e-3)
    assert found.median[1] == pytest.approx(1.0)
    assert found.high[1] == pytest.approx(1.18, abs=1e-3)


def test_too_loose_a_rule_fails_beyond_the_last_value_that_is_met():
    good, bad = some_off(0, 1.0), some_off(30, 1.5)
    found = find_verdict(RULE, samples(good, bad, good))
    assert found.outcome == "fails beyond"
    assert found.reach == 0
    assert verdict_words(found, METRIC) == "fails beyond x 1.00"
    assert "no longer at x 2.00" in sentence(found, METRIC)
    assert found.share == pytest.approx([1.0, 0.7, 1.0])
    assert found.samples[found.worst].measure[1] == 1.5


def test_a_rule_that_even_the_gentlest_value_breaks_fails():
    good, bad = some_off(0, 1.0), some_off(30, 0.2)
    assert find_verdict(RULE, samples(bad, bad, good)).outcome == "fails"


def test_a_bound_knows_no_within():
    bound = replace(RULE, low=-np.inf, target=None)
    close = some_off(10, 1.11)
    assert find_verdict(RULE, samples(close, close, close)).outcome == "holds within"
    assert find_verdict(bound, samples(close, close, close)).outcome == "fails"
    assert claim_words(bound, METRIC) == "at most 1.10"


def test_values_that_fall_fail_below():
    falling = replace(RULE, values=(4.0, 2.0, 1.0))
    good, bad = some_off(0, 1.0), some_off(30, 1.5)
    found = find_verdict(falling, samples(good, bad, bad))
    assert verdict_words(found, METRIC) == "fails below x 4.00"


def test_bows_that_could_not_be_tried_do_not_count():
    good = some_off(4, 1.2)
    hard = np.where(np.arange(100) < 50, np.nan, good)
    found = find_verdict(RULE, samples(good, hard, np.full(100, np.nan)))
    assert found.bows == 50
    assert found.share[1] == 1.0
    assert np.isnan(found.share[2])
    assert found.to_dict()["samples"][0]["measure"][1:] == [None, None]
    with pytest.raises(CaseError, match="none of 100 bows"):
        find_verdict(RULE, samples(good, np.full(100, np.nan), good))


def test_the_picture_shows_every_bow_and_the_claim():
    bound = replace(RULE, low=-np.inf, show_measure="per cent", target=None)
    column = np.array([0.2, 0.5, np.nan])
    one = panel(find_verdict(bound, samples(column, column, 2.0 * column)), METRIC)
    assert one.samples[:2, 2] == pytest.approx([40.0, 100.0])
    low, high = value_limits(one)
    assert low < 20.0
    assert high > 110.0
    assert one.values[one.own] == "x 2.00"
