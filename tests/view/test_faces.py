"""Traces of knots and patches on the faces against areas worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from limbfe.view.faces import decay_trace, draw_faces, knot_trace


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
