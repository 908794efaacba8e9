"""What the close-up draws of a judged knot."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from limbfe.analysis.zones.close_up import close_up
from limbfe.analysis.zones.verdicts import LocalModel
from limbfe.failure.local import judge_zone
from tests.failure import zones
from tests.verification.bent_boards import make_board, problem_of


@pytest.mark.slow
def test_how_a_board_bends_with_a_knot_in_it():
    """A live knot of 8 mm and 2 GPa in 40 by 15 mm bends as 4.69 mm more of the board.

    Own solid of 27-node bricks (`tests/analysis/bow/test_zone_give.py`); slopes are taken in
    the middle of the first and last tenth.  Without the knot the line is an arc.
    """
    board = make_board((40e-3, 15e-3, 0.25), zones.WOOD, zones.STRENGTH, 78e6, 45e6)
    problem = replace(problem_of(board, 0.2, modulus=2e9), rough=False)
    local = LocalModel(problem=problem, outcome=judge_zone(problem), plane="flat")
    result = SimpleNamespace(kind="knot", name="A", state="live", verdict="sound")
    bent = close_up(result, local).bent
    span = np.ptp(bent.x)
    assert bent.more * 0.9045 * span == pytest.approx(4.69e-3, rel=0.05)
    curvature = problem.layers[0].strain.axial / problem.layers[0].z
    assert bent.sound.max() == pytest.approx(curvature * span**2 / 8.0, rel=1e-3)
    assert np.all(bent.zone[1:-1] > bent.sound[1:-1] - 1e-6)
    assert bent.zone[[0, -1]] == pytest.approx([0.0, 0.0], abs=1e-12)
