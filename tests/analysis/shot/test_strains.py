"""Strains through a shot: a bow that has not moved yet is as far bent as the drawn one."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import solve_elastic
from limbfe.analysis.shot.strains import limb_strains
from limbfe.api import read_case
from limbfe.case.build import build_setup

ASH = Path(__file__).parents[3] / "cases" / "ash_flatbow.toml"


@pytest.fixture(scope="module")
def solved():
    setup = build_setup(read_case(ASH))
    return solve_elastic(
        adjust(setup, analysis={"elements_per_limb": 6, "fineness": 0.5}, drawing={"steps": 3})
    )


def moved_to(solved, states):
    """A shot whose elements are strained as in some states of the draw, after full draw."""
    chain = solved.model.bow.chain
    stiffness = solved.full_draw.resultants  # only its shape is used
    twist = np.stack([state.strains.mean(axis=1) for state in states])
    record = SimpleNamespace(twist=twist * chain.length[:, None])
    wide = np.broadcast_to(np.linalg.inv(chain.compliance.mean(axis=1)), (len(stiffness), 6, 6))
    return SimpleNamespace(record=record, model=SimpleNamespace(stiffness=wide))


def test_the_plane_section_stretches_the_back_and_shortens_the_belly(solved):
    found = limb_strains(solved, moved_to(solved, [solved.full_draw] * 2))
    strains = solved.full_draw.strains.reshape(-1, 6)[solved.model.stations.bends]
    half = 0.5 * solved.model.stations.shapes.thickness[solved.model.stations.bends]
    assert found.back_drawn == pytest.approx(strains[:, 0] + half * strains[:, 4], rel=1e-12)
    assert found.belly_drawn == pytest.approx(strains[:, 0] - half * strains[:, 4], rel=1e-12)
    for row in (0, 1):
        assert found.back[row] == pytest.approx(found.back_drawn, rel=1e-12)
        assert found.belly[row] == pytest.approx(found.belly_drawn, rel=1e-12)
    assert found.back_drawn.max() > 5e-3
    assert found.belly_drawn.min() < -5e-3


def test_what_straightens_gives_back_what_it_was_strained(solved):
    """Back at brace the strains are those of brace, which the elements' mean knows to a tenth."""
    found = limb_strains(solved, moved_to(solved, [solved.full_draw, solved.braced]))
    strains = solved.braced.strains.reshape(-1, 6)[solved.model.stations.bends]
    half = 0.5 * solved.model.stations.shapes.thickness[solved.model.stations.bends]
    braced = strains[:, 0] - half * strains[:, 4]
    assert found.belly[1] == pytest.approx(braced, abs=0.1 * np.abs(found.belly_drawn).max())
    assert np.abs(found.belly[1]).max() < np.abs(found.belly_drawn).max()
