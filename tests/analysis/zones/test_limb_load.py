"""The moment that the stiff grip passes on, against statics by hand."""

from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import solve_elastic
from limbfe.analysis.wood.limb_load import limb_load, resultants_at
from limbfe.api import read_case
from limbfe.case.build import build_setup

ELM = Path(__file__).parents[3] / "cases" / "elm_longbow.toml"


@pytest.mark.parametrize("side", [-1, 1])
def test_the_string_bends_the_grip(side):
    """Cut the bow in the grip beyond the hand: one half of the string pulls on the other end.

    Moment = tension times the distance of the cut from the string's line.
    """
    setup = build_setup(read_case(ELM))
    setup = adjust(setup, analysis={"elements_per_limb": 16, "fineness": 0.5}, drawing={"steps": 1})
    solved = solve_elastic(setup)
    state, x = solved.full_draw, side * 0.3 * setup.stave.stiff_length
    (moment,) = resultants_at(solved.model, limb_load(solved), np.array([x]))[:, 4]
    node_x = solved.model.node_x
    cut = np.array([np.interp(x, node_x, column) for column in state.positions.T])
    nock, arrow = state.string_points[[-1 if side > 0 else 0, 1]]
    along = (nock - arrow) / np.linalg.norm(nock - arrow)
    lever = np.linalg.norm(np.cross(cut - arrow, along))
    tension = state.string_tension[1 if side > 0 else 0]
    assert moment == pytest.approx(tension * lever, rel=2e-3)
