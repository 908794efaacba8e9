from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.analysis.wood.strain_limits import first_passing, limb_limits, strain_limits

from ... import invented_bow as given


def test_limits_belong_to_the_wood_that_is_there(assessment):
    stave = assessment.setup.stave
    limits = strain_limits(stave)
    assert limits.back == pytest.approx(128e6 / 9.4e9), "the sapwood is outermost"
    assert limits.belly_set == pytest.approx(44e6 / 10.5e9)
    backed = replace(
        stave, backing=0 * stave.x + 0.002, backing_wood=given.make_wood("backing", 16e9)
    )
    assert strain_limits(backed).back == pytest.approx(128e6 / 16e9)


def test_the_back_breaks_where_its_strength_is_used_up(assessment):
    """Grain that runs out breaks below the strength of straight grain: line and colour agree."""
    spots = [s for s in assessment.hot_spots if (s.mode, s.face) == ("tension", "back")]
    assert spots
    worst = max(spots, key=lambda s: s.strength_used)
    twice = replace(worst, strain=0.011, strength_used=1.1)
    assert limb_limits(assessment.setup.stave, [twice]).back == pytest.approx(0.01)
    bare = limb_limits(assessment.setup.stave, [])
    assert bare.back == strain_limits(assessment.setup.stave).back


def test_first_passing_is_interpolated():
    draw = np.array([0.2, 0.4, 0.7])
    strain = np.array([[0.001, 0.006, 0.0], [0.002, 0.007, 0.001], [0.005, 0.008, 0.002]])
    found = first_passing(draw, strain, 0.004)
    np.testing.assert_allclose(found, [0.4 + 0.3 * 2 / 3, 0.2, np.inf])
    np.testing.assert_allclose(first_passing(draw, -strain, -0.004), found)


def test_strain_in_proportion_to_the_draw_passes_in_proportion():
    draw = np.linspace(0.15, 0.7, 12)
    full = np.array([0.004, 0.006, 0.009])
    strain = draw[:, None] / 0.7 * full
    np.testing.assert_allclose(first_passing(draw, strain, 0.003), 0.7 * 0.003 / full)
