"""Limbs twisted at rest, against bows that need no twist to be described."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.bow.solve import SolvedBow, solve_elastic
from limbfe.api import read_case
from limbfe.beam import own_frame
from limbfe.case.build import build_setup
from limbfe.stave.columns import COLUMNS
from limbfe.stave.stave import Stave, column, with_columns

CASES = Path(__file__).parents[3] / "cases"


def bare(case: str) -> BowSetup:
    """A shipped case without its knots and patches, coarsely divided."""
    setup = build_setup(read_case(CASES / f"{case}.toml"))
    stave = replace(setup.stave, knots=(), decays=())
    return adjust(
        replace(setup, stave=stave),
        analysis={"elements_per_limb": 6, "fineness": 0.5},
        drawing={"steps": 2},
    )


def with_stave(setup: BowSetup, stave: Stave) -> SolvedBow:
    return solve_elastic(replace(setup, stave=stave))


def own(solved: SolvedBow) -> np.ndarray[Any, Any]:
    state = solved.full_draw
    points = np.concatenate([state.positions, state.string_points])
    return own_frame(solved.model.bow, state, points)


@pytest.mark.parametrize(("nock", "close"), [(-0.0085, 1e-8), (0.0, 5e-6)])
def test_a_straight_bow_twisted_alike_everywhere_is_the_whole_bow_turned(
    nock: float, close: float
) -> None:
    """Held by hand it turns into the pull: same forces, every place turned about its axis.

    A twist that brings the back to the archer's right brings belly and string to the left.  Tied on
    the belly the string touches nothing else; from mid-thickness it lies in its groove when braced,
    and where it leaves that is judged as seen along the bow's own Y, here 17 degrees aside.
    """
    setup = bare("ash_flatbow")
    x = setup.stave.x
    setup = adjust(
        setup,
        stringing={
            "brace_height": None, "length": 0.975 * (x[-1] - x[0]), "nock_offset": nock,
        },
        holding={"kind": "hand"},
    )  # fmt: skip
    flat = np.zeros(len(x))
    stave = with_columns(
        setup.stave, thickness=flat + 0.017, reflex=flat, sideways=flat, run_out=0.03, spiral=0.05
    )
    one = with_stave(setup, stave)
    other = with_stave(setup, with_columns(stave, twist=flat + 0.3))
    force = [[state.draw_force for state in solved.states] for solved in (one, other)]
    np.testing.assert_allclose(force[1], force[0], rtol=close)
    assert force[0][-1] > 50.0
    c, s = np.cos(0.3), np.sin(0.3)
    turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    np.testing.assert_allclose(own(other), own(one) @ turn.T, atol=10.0 * close)
    assert own(other)[-2, 1] < -0.1


def test_a_twist_moves_the_tips_of_a_flat_limb_aside_and_its_mirror_image_the_other_way() -> None:
    """Twisted, spiral and leaning, everything varying along the limb; left and right exchanged."""
    setup = bare("elm_longbow")
    x = setup.stave.x
    stave = with_columns(
        setup.stave,
        twist=0.3 * x,
        crown=column(setup.stave, "crown") + 0.05 * np.abs(x),
        ring_radius=0.1 + 0.03 * x,
        run_out=0.05 * x,
        sideways_grain=0.04 * np.cos(3.0 * x),
        spiral=0.06 + 0.03 * x,
    )
    odd = ("lean", "sideways", "twist", "sideways_grain", "spiral")
    flipped = {name: -column(stave, name) for name in odd}
    one, other = with_stave(setup, stave), with_stave(setup, with_columns(stave, **flipped))
    assert other.full_draw.draw_force == pytest.approx(one.full_draw.draw_force, rel=1e-6)
    np.testing.assert_allclose(own(other), own(one) * [1.0, -1.0, 1.0], atol=1e-6)
    plain = with_stave(setup, with_columns(stave, twist=np.zeros(len(x))))
    moved = own(one)[:, 1] - own(plain)[:, 1]
    tips = moved[[0, len(one.model.node_x) - 1]]
    # The back of the upper limb faces right, so that drawing bends that limb to the left.
    assert tips[1] < -0.01
    assert tips[0] > 0.01
    assert {name for name in COLUMNS if np.ptp(column(stave, name)) > 0.0} > {"twist", "spiral"}
