"""The section picture's arrays: the stress shown is in balance with the load."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.analysis.results.section_report import report_section
from limbfe.analysis.wood.section_field import section_field
from limbfe.stave.field import grain_axes
from limbfe.view.section.picture import draw_section

STRAINS = np.array([-1.2e-4, 0.0, 0.0, 0.0, 0.21, -0.03])
"""Small enough that no fibre yields: then the stress must balance the section's own stiffness."""


@pytest.fixture(scope="module")
def bent(assessment):
    limb = assessment.limb
    return replace(assessment, limb=replace(limb, strains=np.tile(STRAINS, (len(limb.x), 1))))


@pytest.fixture(scope="module")
def views(bent):
    return {x: section_field(bent.setup, bent.limb, x) for x in (0.31, -0.64, 0.5)}


@pytest.mark.parametrize("x", [0.31, -0.64, 0.5])
def test_stress_balances_the_stiffness(assessment, views, x):
    view = views[x]
    N, My, Mz = (report_section(assessment.setup, x).stiffness @ STRAINS)[[0, 4, 5]]
    cell = np.diff(view.y)[0] * np.diff(view.z)[0]
    y, z = np.meshgrid(view.y, view.z)
    stress = np.nan_to_num(view.stress) * cell
    # N is small beside the tension and compression that bending balances.
    either = np.abs(stress).sum()
    assert stress.sum() == pytest.approx(N, abs=4e-3 * either)
    assert (stress * z).sum() == pytest.approx(My, rel=6e-3)
    assert -(stress * y).sum() == pytest.approx(Mz, abs=6e-3 * My)


def test_a_belly_past_its_limit_is_shown_at_its_crushing_strength(assessment):
    limb = assessment.limb
    hard = replace(limb, strains=np.tile(8.0 * STRAINS, (len(limb.x), 1)))
    view = section_field(assessment.setup, hard, 0.5)
    crushing = assessment.setup.stave.heartwood.strength.compression
    assert np.nanmin(view.stress) == pytest.approx(-crushing, rel=1e-4)


def test_zones_are_where_the_stave_has_them(assessment, views):
    view = views[0.31]
    cell = np.diff(view.y)[0] * np.diff(view.z)[0]
    bow = np.abs(np.sum(view.outline[:, 0] * np.roll(view.outline[:, 1], -1)
                        - view.outline[:, 1] * np.roll(view.outline[:, 0], -1))) / 2  # fmt: skip
    assert (view.wood >= 0).sum() * cell == pytest.approx(bow, rel=3e-3)
    assert set(np.unique(view.knot)) == {-1, 0}
    assert set(np.unique(views[-0.64].decay)) == {-1, 0}
    assert np.all(views[0.5].knot == -1)
    right = view.wood[:, len(view.y) * 4 // 5]
    left = view.wood[:, len(view.y) // 5]
    assert (right == 1).sum() > (left == 1).sum(), "positive lean: thicker at the right"


def test_rings_run_square_to_their_normal(assessment, views):
    view = views[0.5]
    slope_z, slope_y = np.gradient(view.ring_height, view.z, view.y)
    y, z = np.meshgrid(view.y, view.z)
    at = (slice(40, -40, 37), slice(40, -40, 37))
    normal = grain_axes(assessment.setup.stave, 0.5, y[at], z[at])[..., 1]
    across = np.stack([slope_y[at], slope_z[at]], axis=-1)
    in_plane = normal[..., 1:] / np.linalg.norm(normal[..., 1:], axis=-1, keepdims=True)
    # Run-out of 0.02 tilts the normal out of the section, in it by its square only.
    np.testing.assert_allclose(across, in_plane, atol=1e-3)


def test_neutral_axis_parts_stretched_from_squeezed(views):
    view = views[0.5]
    y, z = np.meshgrid(view.y, view.z)
    along = view.neutral_direction
    above = (z - view.neutral_point[1]) * along[0] - (y - view.neutral_point[0]) * along[1]
    above *= np.sign(along[0])
    clear = (view.wood >= 0) & (np.abs(above) > 2e-4)
    assert np.mean(np.sign(view.stress[clear]) == np.sign(above[clear])) > 0.999


def test_picture_names_what_it_shows(views):
    figure = draw_section(views[0.31], ("A", "C"))
    words = {text.get_text() for axes in figure.axes for text in axes.texts}
    assert {"back", "belly", "knot A", "heartwood", "sapwood"} <= words
