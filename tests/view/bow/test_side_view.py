"""Arrays behind the side view: frame, marks, and what the meshes carry."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.view import theme
from limbfe.view.bow.limb import place_marks, side_frame
from limbfe.view.bow.scene import Frame, fill_frame, whole_surface

from ... import invented_bow as given


def test_frame_holds_every_pose_and_string(assessment):
    frame = side_frame(assessment)
    for pose in assessment.drawn.poses:
        for points in (pose.positions, pose.string):
            assert np.all((points[:, 0] > frame.left) & (points[:, 0] < frame.right))
            assert np.all((points[:, 2] > frame.bottom) & (points[:, 2] < frame.top))


@pytest.mark.parametrize("aspect", [0.4, 3.0])
def test_frame_is_only_widened(aspect):
    frame = Frame(left=-0.3, right=0.7, bottom=-0.8, top=0.9)
    filled = fill_frame(frame, aspect)
    width, height = filled.right - filled.left, filled.top - filled.bottom
    assert width / height == pytest.approx(aspect)
    assert filled.left <= frame.left
    assert filled.right >= frame.right
    assert filled.left + filled.right == pytest.approx(frame.left + frame.right)
    assert height == pytest.approx(max(1.7, 1.0 / aspect))


def test_marks_lie_on_the_drawn_bow(assessment):
    marks = {mark.text: mark for mark in place_marks(assessment, "metric")}
    assert set(marks) == {
        "lower belly at 220 mm: 0.97",
        "upper back at 310 mm: 0.94",
        "upper belly at 260 mm: 0.91",
        "lower back at 210 mm: 0.52",
        "knot A at 310 mm: 0.93",
        "knot C at 420 mm: 0.58",
        "decay B at 640 mm: 1.12",
    }
    np.testing.assert_allclose(
        marks["decay B at 640 mm: 1.12"].point, given.arc_position(-0.64, "drawn"), atol=2e-6
    )
    back, belly = (
        marks[name].point for name in ("upper back at 310 mm: 0.94", "upper belly at 260 mm: 0.91")
    )
    assert back[0] < given.arc_position(0.31, "drawn")[0]
    assert belly[0] > given.arc_position(0.26, "drawn")[0]
    assert back[1] == pytest.approx(-0.004), "across counts towards the archer's right, +Y"


@pytest.mark.render
def test_mesh_carries_results_in_the_units_of_their_scales(assessment):
    from limbfe.analysis.results.skin import spread
    from limbfe.view.bow.scene import skin_mesh

    surface = whole_surface(assessment)
    mesh = skin_mesh(assessment.drawn.poses[2], surface)
    np.testing.assert_allclose(mesh.point_data["axial_strain"], 100 * spread(surface.axial_strain))
    np.testing.assert_allclose(mesh.point_data["axial_stress"], spread(surface.axial_stress) / 1e6)
    np.testing.assert_allclose(mesh.point_data["station"].min(), surface.x[0])
    tones = np.unique(mesh.point_data["wood"], axis=0)
    expected = (255 * theme.wood_colours(np.array([0.0, 1.0]))).round()
    np.testing.assert_array_equal(tones, expected[np.lexsort(expected.T[::-1])])
    assert mesh.is_manifold
    assert mesh.volume > 0


def test_scales():
    assert theme.value_range("strength_used", np.array([0.3, 2.7])) == (0.0, 1.5)
    assert theme.value_range("axial_strain", np.array([-0.0093, 0.007])) == (-1.0, 1.0)
    assert theme.value_range("axial_stress", np.array([-44e6, 101e6])) == (-120.0, 120.0)
    assert theme.round_up(6.0) == 6.0


def test_the_strength_scale_darkens_in_steps_and_jumps_at_one():
    """Lightness (CIE 1976 L*) falls with every step, evenly up to 1 and past it; nothing is black
    before the end of the scale, and 0.7, 0.95 and 1.05 are three colours."""
    middles = 0.5 * (theme.USED_STEPS[1:] + theme.USED_STEPS[:-1])
    rgb = theme.colour_map("strength_used")(middles / theme.USED_STEPS[-1])[:, :3]
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    lightness = 116 * np.cbrt(linear @ [0.2126, 0.7152, 0.0722]) - 16
    falls = -np.diff(lightness)
    past = int(np.searchsorted(middles, 1.0))
    for even in (falls[: past - 1], falls[past:]):
        assert even.min() > 0.4 * even.mean()
        assert even.max() < 2.0 * even.mean()
    assert falls[past - 1] > 2.0 * falls[: past - 1].mean()
    assert lightness[-1] > 5.0
    assert np.abs(rgb[past - 1] - rgb[7]).max() > 0.1
