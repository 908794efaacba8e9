from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.errors import LimbfeError
from limbfe.view.first_strain import band_edges, draw_first_strain, first_passing


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


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_bands_are_few_and_end_at_full_draw(units):
    edges = band_edges(0.176, 0.711, units)
    assert (edges[0], edges[-1]) == (0.176, 0.711)
    assert 4 <= len(edges) <= 12
    assert np.all(np.diff(edges) > 0)


def test_needs_more_than_one_state(assessment):
    with pytest.raises(LimbfeError, match="at least two"):
        draw_first_strain(assessment, [(assessment.poses[2], assessment.surface)], 0.003)


def test_nothing_passes_a_level_beyond_the_strain(assessment):
    braced, drawn = assessment.poses[1:]
    half = replace(assessment.surface, axial_strain=0.5 * assessment.surface.axial_strain)
    steps = [(braced, half), (drawn, assessment.surface)]
    areas = draw_first_strain(assessment, steps, 0.005).axes[0].collections
    assert len(draw_first_strain(assessment, steps, 0.05).axes[0].collections) < len(areas)
