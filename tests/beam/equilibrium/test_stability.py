"""In which way a bow gives way: by the solver's softest motion and by a dense second opinion."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import limbfe.analysis.bow.model as model_module
from limbfe.analysis.bow.model import build_model
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import drawn_bow, solve_bow
from limbfe.api import read_case
from limbfe.beam import Bow, brace, draw
from limbfe.case.build import build_setup
from limbfe.errors import ConvergenceError

from ..strung.test_holds import narrow_bow
from .test_random_bows import dense_hessian

CASES = Path(__file__).parents[3] / "cases"


def recurved(reflex):
    """The ash flatbow with tips recurved forwards, by `reflex` (m) at the tip."""
    setup = build_setup(read_case(CASES / "ash_flatbow.toml"))
    stave = setup.stave
    outer = np.clip((np.abs(stave.x) - 0.55) / 0.34, 0.0, None)
    stave = replace(stave, reflex=reflex * outer**2)
    return adjust(
        setup,
        stave=stave,
        analysis={"elements_per_limb": 10, "fineness": 0.3},
        drawing={"steps": 8},
    )


def lowest(bow, state):
    """Lowest curvature of the energy for motions in the plane and for motions out of it."""
    matrix = dense_hessian(bow, state)
    nodes = (len(matrix) - 3) // 6
    sideways = np.r_[np.tile([0, 1, 0, 1, 0, 1], nodes), [0, 1, 0]].astype(bool)
    assert np.abs(matrix[np.ix_(sideways, ~sideways)]).max() < 1e-6 * np.abs(matrix).max()
    return [np.linalg.eigvalsh(matrix[np.ix_(part, part)])[0] for part in (~sideways, sideways)]


def test_the_motion_is_named():
    """A string tied to recurved limbs at the nocks alone pulls them over; one on them does not."""
    lying = build_model(recurved(0.1)).bow
    stands = brace(lying, height=0.12)
    assert stands.string_lies.min() > 0.05
    assert min(lowest(lying, stands)) > 0.0
    assert (stands.stable, stands.gives_way) == (True, None)
    recurve = replace(lying, bed=None)
    braced = brace(recurve, height=0.12)
    plane, across = lowest(recurve, braced)
    assert plane < 0.0 < across
    assert (braced.stable, braced.gives_way) == (False, "in the plane")
    with pytest.raises(ConvergenceError, match="less recurve"):
        draw(recurve, braced, [0.5])
    higher = brace(recurve, height=0.15)
    assert min(lowest(recurve, higher)) > 0.0
    assert (higher.stable, higher.gives_way) == (True, None)

    narrow = narrow_bow(0.017)
    braced = brace(narrow, height=0.03)
    plane, across = lowest(narrow, braced)
    assert across < 0.0 < plane
    assert braced.gives_way == "sideways"
    with pytest.raises(ConvergenceError, match="wider, straighter or thinner"):
        draw(narrow, braced, [0.5])


def test_a_yielding_belly_gives_way_in_the_plane_and_the_cures_help(monkeypatch):
    """Limbs that the string cannot lie on: on them it keeps such bows standing."""
    monkeypatch.setattr(model_module, "Bow", lambda **given: Bow(**{**given, "bed": None}))
    stands = solve_bow(recurved(0.095), beyond=False)
    assert stands.braced.gives_way == "in the plane"
    assert "stands only because crushed wood that is let go springs back" in str(stands.warnings)
    bow = recurved(0.105)
    with pytest.raises(
        ConvergenceError, match=r"braced 150 mm .* high the bow is not stable: in the plane"
    ) as error:
        solve_bow(bow, beyond=False)
    assert error.value.last_state.gives_way == "in the plane"
    stave = bow.stave
    for cured in (
        replace(stave, reflex=0.7 * stave.reflex),
        replace(stave, thickness=0.7 * stave.thickness),
        replace(
            stave, thickness=stave.thickness * (1.0 + 1.5 * np.clip(np.abs(stave.x) - 0.5, 0, 0.3))
        ),
    ):
        solved = solve_bow(replace(bow, stave=cured), beyond=False)
        assert solved.full_draw.stable
        assert not any("comes back" in str(caution) for caution in drawn_bow(solved).cautions)


def test_a_lopsided_brace_is_found_and_said():
    bow = recurved(0.0)
    deeper = np.where(bow.stave.x < -0.1, 1.5, 1.0)
    bow = replace(bow, stave=replace(bow.stave, thickness=deeper * bow.stave.thickness))
    solved = solve_bow(bow, beyond=False)
    tips = solved.braced.positions[[0, -1], 0]
    assert solved.braced.stable
    assert tips[0] < 0.5 * tips[1]
    said = str(drawn_bow(solved).cautions[0])
    assert "one limb bends far more than the other" in said
    assert "recurve" not in said, "this bow has none"
