from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.view.strength import clearest_place, draw_strength, shown_limits, strain_limits


def test_limits_belong_to_the_wood_that_is_there(assessment, synthetic):
    stave = assessment.setup.stave
    limits = strain_limits(stave)
    assert limits.back == pytest.approx(128e6 / 9.4e9), "the sapwood is outermost"
    assert limits.belly_set == pytest.approx(44e6 / 10.5e9)
    backed = replace(
        stave, backing=0 * stave.x + 0.002, backing_wood=synthetic.make_wood("backing", 16e9)
    )
    assert strain_limits(backed).back == pytest.approx(128e6 / 16e9)


def test_the_back_breaks_where_its_strength_is_used_up(assessment):
    """Grain that runs out breaks below the strength of straight grain: line and colour agree."""
    spots = [s for s in assessment.hot_spots if (s.mode, s.face) == ("tension", "back")]
    assert spots
    worst = max(spots, key=lambda s: s.strength_used)
    twice = replace(worst, strain=0.011, strength_used=1.1)
    assert shown_limits(replace(assessment, hot_spots=(twice,))).back == pytest.approx(0.01)
    bare = shown_limits(replace(assessment, hot_spots=()))
    assert bare.back == strain_limits(assessment.setup.stave).back


def test_words_keep_clear_of_the_curve():
    x = np.linspace(-1.0, 1.0, 401)
    place = clearest_place(x, x**2, 1.0, 0.1)
    assert abs(place) < 0.02
    assert abs(clearest_place(x, x**2, 0.0, 0.1)) > 0.85


def test_curves_are_those_of_the_limb(assessment):
    used, strain = draw_strength(assessment).axes
    limb = assessment.limb
    line = used.lines[0]
    np.testing.assert_allclose(line.get_xdata(), 1e3 * limb.x)
    np.testing.assert_allclose(line.get_ydata(), limb.strength_used)
    np.testing.assert_allclose(strain.lines[0].get_ydata(), 100 * limb.back_strain)
    np.testing.assert_allclose(strain.lines[1].get_ydata(), 100 * limb.belly_strain)
    shown = {text.get_text() for text in used.texts}
    assert {"knot A\nwatch", "knot C\nsound", "decay B\nexpect rupture"} <= shown
