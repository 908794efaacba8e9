"""The strategies in ``cases/tapers``: sound, comparable, and each does what its title says."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.assess import limb_field
from limbfe.analysis.solve import SolvedBow, solve_bow
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.studies.measures import strain_level

TAPERS = sorted((Path(__file__).parents[2] / "cases" / "tapers").glob("*.toml"))


@lru_cache
def case(path: Path) -> Case:
    return read_case(path)


@lru_cache
def solved(name: str) -> SolvedBow:
    """Return a taper drawn on a coarse mesh."""
    setup = build_setup(case(next(path for path in TAPERS if path.stem == name)))
    coarse = replace(setup, fineness=0.5, elements_per_limb=8, draw_steps=2)
    return solve_bow(coarse, beyond=False)


def evenness(name: str) -> float:
    bow = solved(name)
    peak, mean = strain_level(bow.model, limb_field(bow))
    return mean / peak


def test_they_differ_in_their_taper_alone() -> None:
    assert len(TAPERS) >= 8
    files = [case(path).file for path in TAPERS]
    for name in ("wood", "grain", "section", "string", "draw"):
        assert len({repr(getattr(file, name)) for file in files}) == 1
    assert len({file.taper.length for file in files if file.taper is not None}) == 1
    assert len({file.title for file in files}) == len({path.stem for path in TAPERS}) == len(files)
    assert all(file.question for file in files)


@pytest.mark.parametrize("name", [path.stem for path in TAPERS])
def test_it_draws_about_thirty_five_pounds(name: str) -> None:
    """156 N within a tenth, so that a comparison at one weight compares these very bows."""
    assert solved(name).full_draw.draw_force == pytest.approx(156.0, rel=0.1)


def test_even_strain_is_the_most_even_and_linear_thickness_is_not() -> None:
    assert evenness("parallel_even_strain") > evenness("parallel_linear") + 0.1
    assert evenness("parallel_even_strain") > evenness("convex_circular")
    assert evenness("parallel_even_strain") > evenness("parallel_whip_tips")


def test_a_circular_bend_comes_out_round() -> None:
    """Curvature on the inner three quarters of the bending limb; the belly's yield is the rest."""
    bow = solved("through_grip_circular")
    x, curvature = bow.model.x, bow.full_draw.strains.reshape(-1, 6)[:, 4]
    inner = np.abs(x) < 0.75 * x.max()
    assert np.ptp(curvature[inner]) < 0.15 * curvature[inner].mean()
