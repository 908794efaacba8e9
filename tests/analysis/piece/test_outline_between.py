"""How wide the plate of a piece of limb is: as the limb, but for what tapers to an edge.

No outside source: the outline itself, and `THINNEST` as it is defined.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.analysis.piece.piece import THINNEST, outline_between
from limbfe.stave.outline import back_z, belly_z
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Outline

from ...boards import board

WIDTH, THICK = 0.04, 0.012


def limb(**outline):
    given = {"crown": np.inf, "belly": "flat", "belly_corner": 0.0} | outline
    return replace(board(WIDTH, THICK), outline=Outline(**given))


def thickness(stave, y):
    shapes = shape_at(stave, np.zeros(len(y)))
    return back_z(shapes, y) - belly_z(shapes, y)


def test_a_board_is_a_plate_of_its_whole_width():
    strip = outline_between(limb(), -0.05, 0.07)
    assert strip.left == pytest.approx(np.full(len(strip.x), WIDTH / 2), rel=1e-12)
    assert strip.right == pytest.approx(-strip.left)
    assert strip.x[[0, -1]] == pytest.approx([-0.05, 0.07])


@pytest.mark.parametrize("outline", [{"belly": "round"}, {"crown": 0.0228}])
def test_a_limb_with_thin_edges_is_cut_where_it_is_thin(outline):
    """A round belly and a back arched by nearly all of the thickness."""
    stave = limb(**outline)
    edge = float(outline_between(stave, -0.05, 0.05).left[12])
    assert 0.9 * WIDTH / 2 < edge <= WIDTH / 2
    step = 0.1 / 40 * WIDTH / 2
    inside, outside = thickness(stave, np.array([edge, edge + step]))
    middle = thickness(stave, np.zeros(1))[0]
    assert inside >= THINNEST * middle * (1 - 1e-9)
    assert edge == pytest.approx(WIDTH / 2) or outside < THINNEST * middle
