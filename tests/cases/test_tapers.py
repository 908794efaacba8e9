"""The strategies in ``cases/tapers``: sound, comparable, and each does what its title says."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import SolvedBow, solve_bow, solve_elastic
from limbfe.analysis.wood.limb_field import limb_field
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.stave.taper import ellipse_curvature
from limbfe.studies.compare.measures import strain_level

TAPERS = sorted((Path(__file__).parents[2] / "cases" / "tapers").glob("*.toml"))


@lru_cache
def case(path: Path) -> Case:
    return read_case(path)


@lru_cache
def solved(name: str) -> SolvedBow:
    """Return a taper drawn on a coarse mesh."""
    setup = build_setup(case(next(path for path in TAPERS if path.stem == name)))
    coarse = adjust(setup, analysis={"fineness": 0.5, "elements_per_limb": 6}, drawing={"steps": 1})
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


@pytest.mark.parametrize(
    ("name", "ratio"),
    [("through_grip_circular", None), ("convex_circular", None), ("through_grip_elliptical", 0.75)],
)
def test_a_limb_bends_to_the_curve_it_was_tapered_for(name: str, ratio: float | None) -> None:
    """The drawn finite-element bow against the statics behind its taper (closed form, recomputed).

    Wood that does not yield and a string that hardly stretches, as statics takes them.  Shear, the
    belly's rounded corners and the columns between their stations are the rest, below 2 per cent.
    The tips, held thicker than the law, are left out.
    """
    setup = build_setup(case(next(path for path in TAPERS if path.stem == name)))
    stiff = adjust(
        setup,
        analysis={"fineness": 0.5},
        drawing={"steps": 3},
        stringing={"stiffness": 1e7},
        holding={"kind": "clamp"},
    )
    bow = solve_elastic(stiff)
    x, curvature = np.abs(bow.model.stations.x), bow.full_draw.strains.reshape(-1, 6)[:, 4]
    start = 0.0 if setup.stave.stiff_length == 0.0 else 0.122
    limb = (x > start) & (x < 0.85 * x.max())
    shape = np.ones_like(x)
    if ratio is not None:
        tip = bow.full_draw.rotations[-1, :, 0]
        shape = ellipse_curvature(x / x.max(), ratio, float(np.arctan2(tip[0], tip[2])))
    bend = (curvature / shape)[limb]
    assert np.ptp(bend) < 0.02 * bend.mean()


@pytest.mark.parametrize("name", ["through_grip_even_strain", "parallel_even_strain"])
def test_even_strain_is_even_in_the_drawn_bow(name: str) -> None:
    """The back's strain of the finite-element bow, elastic as above, below 2 per cent apart."""
    setup = build_setup(case(next(path for path in TAPERS if path.stem == name)))
    stiff = adjust(
        setup,
        analysis={"fineness": 0.5},
        drawing={"steps": 3},
        stringing={"stiffness": 1e7},
        holding={"kind": "clamp"},
    )
    bow = solve_elastic(stiff)
    x, strain = np.abs(bow.model.stations.x), limb_field(bow).back_strain
    start = 0.0 if setup.stave.stiff_length == 0.0 else 0.122
    limb = (x > start) & (x < 0.85 * x.max())
    assert np.ptp(strain[limb]) < 0.02 * strain[limb].mean()
