from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.errors import LimbfeError
from limbfe.view.bow.first_strain import band_edges, draw_first_strain


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_bands_are_few_and_end_at_full_draw(units):
    edges = band_edges(0.176, 0.711, units)
    assert (edges[0], edges[-1]) == (0.176, 0.711)
    assert 4 <= len(edges) <= 12
    assert np.all(np.diff(edges) > 0)


def test_needs_more_than_one_state(assessment):
    with pytest.raises(LimbfeError, match="at least two"):
        draw_first_strain(assessment, [(assessment.drawn.poses[2], assessment.surface)], 0.003)


def test_nothing_passes_a_level_beyond_the_strain(assessment):
    braced, drawn = assessment.drawn.poses[1:]
    half = replace(assessment.surface, axial_strain=0.5 * assessment.surface.axial_strain)
    steps = [(braced, half), (drawn, assessment.surface)]
    areas = draw_first_strain(assessment, steps, 0.005).axes[0].collections
    assert len(draw_first_strain(assessment, steps, 0.05).axes[0].collections) < len(areas)
