"""What is said of sapwood is what its table shows."""

import io
from dataclasses import replace
from types import SimpleNamespace

import pytest
from rich.console import Console

from limbfe.report.sapwood import sapwood_sentence, sapwood_tables
from limbfe.studies.size.sapwood import SHARES, GivesWay, SapwoodRow, SapwoodStudy
from limbfe.units import IMPERIAL, METRIC


def study(used, *, may_stay, thin_to=None, limit=1.005):
    def row(share, one):
        return SapwoodRow(
            share=share,
            sapwood=share * 0.0127,
            thickness=0.0127,
            force=180.0,
            used_outer=one,
            used_inner=0.8,
            mass_outer=0.1,
        )

    kept = tuple(row(share, one) for share, one in zip(SHARES, used, strict=True))
    return SapwoodStudy(
        source=SimpleNamespace(title="a bow"),
        draw_length=0.7,
        thinned=(row(1.0, used[2]), row(0.0, 1.4)),
        kept=kept,
        limit=limit,
        may_stay=may_stay,
        thin_to=thin_to,
    )


@pytest.mark.parametrize("level", [0.8, 1.3])
def test_a_depth_that_changes_nothing_hardly_matters(level):
    """Also where the tips are past the limit with and without sapwood: no share of it is named."""
    used = [level + 0.002 * k for k in range(len(SHARES))]
    words = sapwood_sentence(study(used, may_stay=None if level < 1 else 0.0), METRIC)
    assert "hardly matters" in words
    assert "0% of the tips" not in words
    assert "11.4 mm" in words


def test_tips_too_thin_whatever_they_are_of():
    words = sapwood_sentence(study([1.2, 1.3, 1.4, 1.5, 1.6, 1.7, 1.8], may_stay=0.0), METRIC)
    assert "too thin" in words
    assert "120%" in words
    assert "0% of the tips" not in words


def test_limbs_past_their_limit_have_no_draw_weight():
    """A limb that folds at its tip may draw more than before: no maker takes that for a weight."""
    console = Console(width=80, file=io.StringIO())
    bows = study([0.7] * len(SHARES), may_stay=None)
    console.print(sapwood_tables(bows, METRIC))
    rows = console.file.getvalue().splitlines()
    assert sum("breaks" in row for row in rows) == 1
    assert sum("180 N" in row for row in rows) == 1 + len(SHARES)
    assert "draw weight" not in sapwood_sentence(bows, METRIC)


def test_a_share_that_may_stay_is_named_in_the_reader_s_units():
    used = [0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3]
    words = sapwood_sentence(study(used, may_stay=0.45), IMPERIAL)
    assert "up to 45% of the tips" in words
    assert "7/32 in" in words  # 0.45 of 12.7 mm is 0.225 in, 14.4 of 64ths
    words = sapwood_sentence(study([0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95], may_stay=None), METRIC)
    assert "any depth" in words
    assert "40% to 95%" in words


def test_thinned_tips_that_give_way_end_the_table_and_are_told():
    """A reflexed bow whose tips are thinned turns over before they break."""
    bows = study([0.7] * len(SHARES), may_stay=None, thin_to=0.5)
    ended = GivesWay(share=0.25, sapwood=1.1e-3, words="braced 140 mm high the bow is not stable")
    bows = replace(bows, thinned=bows.thinned[:1], gives_way=ended)
    words = sapwood_sentence(bows, METRIC)
    assert "6.3 mm must stay. With 1.1 mm of it left the bow gives way: braced 140 mm" in words
