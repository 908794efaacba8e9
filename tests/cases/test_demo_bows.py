"""The shipped bows say how hard they are worked, and are."""

import pytest

from limbfe.analysis.bow.cautions import LARGE_SET

from .conftest import CASES, assessed


@pytest.mark.slow
def test_titles_say_how_hard_the_belly_is_worked():
    """Two inches of set is too much, one is a well made bow's (common practice)."""
    rested = {}
    for path in CASES:
        drawn = assessed(path).drawn
        kept, title = drawn.kept, drawn.setup.title
        rested[path.stem] = kept.mean
        warned = any("worked too hard" in str(caution) for caution in drawn.cautions)
        assert warned == (kept.mean > LARGE_SET) == ("overworked on purpose" in title), path
        if "well made" in title:
            assert kept.mean < 0.03
            assert kept.high < 1.05 * LARGE_SET
    assert rested["locust_reflex"] < 0.6 * rested["ash_flatbow"]
    assert rested["ash_flatbow"] < 0.9 * rested["elm_longbow"]
