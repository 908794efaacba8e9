"""What comes first and the verdict say the same of one zone."""

from types import SimpleNamespace

import pytest

from limbfe.failure.problem import ModeOutcome
from limbfe.failure.verdict import first_failure, judge


def outcome(**typical):
    """Return a judgement with this much strength used; a split is the larger of its two ways."""
    used = {"fibre": 0.1, "opening": 0.1, "sliding": 0.1, "yield": 0.1, **typical}
    used["split"] = max(used["opening"], used["sliding"])
    places = dict.fromkeys(("x", "y", "z", "high_y", "high_z", "angle", "length"), 0.0)
    modes = {
        mode: ModeOutcome(mode=mode, low=value, typical=value, high=value, **places)
        for mode, value in used.items()
    }
    return SimpleNamespace(modes=modes, probability=None, grain_split=None, in_edge=False)


@pytest.mark.parametrize(
    ("used", "verdict", "words"),
    [
        ({"fibre": 1.2, "opening": 0.9}, "expect rupture", "fibres break"),
        (
            {"fibre": 1.1, "opening": 1.6},
            "expect rupture",
            "splits open along the grain, then fibres break",
        ),
        ({"fibre": 0.7, "sliding": 1.3}, "expect a split", "splits by sliding along the grain"),
        ({"fibre": 0.85, "yield": 1.4}, "watch", "fibres break"),
        ({"fibre": 0.5, "yield": 1.4}, "watch", "wrinkles on the belly (frets)"),
        ({"fibre": 0.3, "yield": 0.6}, "sound", "wrinkles on the belly (frets)"),
    ],
)
def test_words_agree_with_the_verdict(used, verdict, words):
    found = outcome(**used)
    assert judge(found) == verdict
    assert first_failure(found) == words
