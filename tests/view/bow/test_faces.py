"""Traces of knots and patches on the faces against areas worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.view.bow.faces import decay_trace, draw_faces, knot_trace, off_centre, whole_width


def area(trace) -> float:
    """Area of the trace seen square to the face, by counting cells of the grid."""
    dx = np.diff(trace.x[:, 0])[0]
    dy = np.diff(trace.y, axis=1)
    inside = trace.level[:, :-1] + trace.level[:, 1:] < 0.0
    return float((inside * dy).sum() * dx)


def test_knot_on_the_back_is_a_circle_of_its_diameter(assessment):
    knot = assessment.setup.stave.knots[1]
    trace = knot_trace(knot, assessment.surface, "back")
    assert area(trace) == pytest.approx(np.pi * knot.radius**2, rel=0.02)
    inside = trace.level < 0
    assert trace.x[inside].mean() == pytest.approx(-0.42, abs=1e-4)
    assert trace.y[inside].mean() == pytest.approx(0.009, abs=1e-4)


def test_slanting_knot_cuts_a_longer_trace(assessment):
    """A circular cone cut at an angle: to first order the circle over the cosine."""
    knot = assessment.setup.stave.knots[0]
    trace = knot_trace(knot, assessment.surface, "back")
    assert area(trace) == pytest.approx(np.pi * knot.radius**2 / 0.96, rel=0.02)


def test_patch_on_the_belly_but_not_on_the_back(assessment):
    decay = assessment.setup.stave.decays[0]
    belly = decay_trace(decay, assessment.surface, "belly")
    assert belly.level.min() < 0 < decay_trace(decay, assessment.surface, "back").level.min()
    inside = belly.level < 0
    assert np.ptp(belly.x[inside]) == pytest.approx(2 * decay.semi_axes[0], rel=0.05)


def test_face_picture_has_both_faces(assessment):
    figure = draw_faces(assessment, result="axial_strain", units="imperial")
    back, belly = figure.axes[:2]
    assert back.get_ylabel() == "back, in"
    for axes, sign in ((back, 1), (belly, -1)):
        values = axes.collections[0].get_array()
        assert np.sign(values.sum()) == sign, "the back is stretched, the belly squeezed"


def bent(assessment, aside):
    """The invented bow with limbs bent sideways, in m at every station."""
    setup = assessment.setup
    stave = replace(setup.stave, sideways=aside * np.ones_like(setup.stave.x))
    drawn = replace(assessment.drawn, setup=replace(setup, stave=stave))
    return replace(assessment, drawn=drawn)


def test_faces_follow_the_limb_s_real_middle(assessment):
    x = assessment.setup.stave.x
    crooked = bent(assessment, 0.012 * np.sin(3.0 * x))
    middle = off_centre(crooked, x)
    assert middle == pytest.approx(0.012 * np.sin(3.0 * x), abs=2e-4)
    straight, moved = (draw_faces(one, result="axial_strain") for one in (assessment, crooked))
    edges = [one.axes[0].lines[0].get_ydata() for one in (straight, moved)]
    apart = edges[1] - edges[0]
    wanted = 1e3 * off_centre(crooked, 1e-3 * straight.axes[0].lines[0].get_xdata())
    assert apart == pytest.approx(wanted, abs=0.01)
    dashed = [line for line in moved.axes[0].lines if line.get_linestyle() not in ("-", "None")]
    assert dashed, "the middle line is drawn where it is not straight"


def test_a_flat_face_is_worked_across_its_whole_width(assessment):
    spot = next(one for one in assessment.hot_spots if one.face == "belly")
    surface = assessment.surface
    flat = replace(surface, strength_used=np.full_like(surface.strength_used, 0.8))
    assert whole_width(flat, spot)
    ridge = replace(surface, strength_used=0.8 - 20.0 * np.abs(surface.ring[..., 0]))
    assert not whole_width(ridge, spot)
    said = " ".join(text.get_text() for text in draw_faces(assessment).axes[1].texts)
    assert ("across the whole width" in said) == any(
        whole_width(surface, one) for one in assessment.hot_spots if one.face == "belly"
    )


def test_hot_spots_name_their_limb(assessment):
    figure = draw_faces(assessment)
    said = [text.get_text() for axes in figure.axes[:2] for text in axes.texts]
    for spot in assessment.hot_spots[:1]:
        assert any(one.startswith(f"{spot.limb} {spot.face} at") for one in said)
