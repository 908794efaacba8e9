"""Decay multipliers."""

import pytest

from limbfe.errors import MaterialError
from limbfe.wood import DecayEffect, decay_effect, decay_laws, given_decay_effect
from limbfe.wood.decay import MASS_LOSS, ROTS

NAMES = ("E", "G", "density", "tension", "compression", "shear", "across", "toughness")


@pytest.mark.parametrize("rot", ROTS)
def test_each_stage_is_worse_than_the_one_before(rot):
    stages = [decay_effect(stage, rot) for stage in ("incipient", "moderate", "advanced")]
    for name in NAMES:
        values = [getattr(effect, name) for effect in stages]
        assert 1.0 > values[0] > values[1] > values[2] > 0.0
        assert all(effect.sources[name].text for effect in stages)


@pytest.mark.parametrize("stage", list(MASS_LOSS))
def test_brown_rot_is_worse_than_white(stage):
    brown, white = decay_effect(stage, "brown"), decay_effect(stage, "white")
    assert all(getattr(brown, name) <= getattr(white, name) for name in NAMES)


@pytest.mark.parametrize("rot", ROTS)
@pytest.mark.parametrize("stage", list(MASS_LOSS))
def test_toughness_suffers_most_and_stiffness_least(stage, rot):
    """FPL, Wood Handbook, FPL-GTR-190 (2010), ch. 5: toughness goes first."""
    effect = decay_effect(stage, rot)
    assert effect.toughness == min(getattr(effect, name) for name in NAMES)
    assert effect.tension < effect.E


def test_given_multipliers_replace_those_of_the_stage():
    effect = given_decay_effect({"tension": 0.2, "E": 0.8}, decay_effect("incipient", "white"))
    assert (effect.tension, effect.E) == (0.2, 0.8)
    assert effect.sources["tension"].flag.word == "given"
    assert effect.across == 0.90
    assert effect.sources["across"].flag.word == "assumed"


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: decay_effect("mild", "brown"), 'stage = "mild"'),
        (lambda: decay_effect("moderate", "soft"), 'use "brown" or "white"'),
        (lambda: decay_laws(3.0, "brown"), "a fraction, not per cent"),
        (lambda: given_decay_effect({"E": 0.5}), "not given; give them, or a stage"),
        (lambda: given_decay_effect({"modulus": 0.5}), "decay multiplier modulus"),
        (lambda: DecayEffect(**dict.fromkeys(NAMES, 0.0)), "missing knot"),
        (lambda: DecayEffect(**dict.fromkeys(NAMES, 1.2)), "at most 1"),
    ],
)
def test_messages(call, words):
    with pytest.raises(MaterialError, match=words):
        call()
