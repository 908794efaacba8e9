from __future__ import annotations

import numpy as np

from limbfe.view.bow.strength import clearest_place, draw_strength


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
