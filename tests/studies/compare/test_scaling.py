"""One factor on the thickness: the cube law, and what is said when no factor will do."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.bow.solve import solve_bow
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.stave.profile import shape_at
from limbfe.stave.reshape import reshaped
from limbfe.studies.compare.scaling import figure_of, scale_to, scaled

CASES = Path(__file__).parents[3] / "cases"


@pytest.fixture(scope="module")
def ash() -> BowSetup:
    found = build_setup(read_case(CASES / "ash_flatbow.toml"))
    return adjust(found, analysis={"fineness": 0.5, "elements_per_limb": 6}, drawing={"steps": 3})


@pytest.fixture(scope="module")
def unyielding(ash: BowSetup) -> BowSetup:
    """The ash bow of a wood that never leaves the straight line."""
    wood = ash.stave.heartwood
    strong = replace(
        wood.strength, compression=1e9, compression_proportional_limit=9e8, compression_plateau=9e8
    )
    return replace(ash, stave=replace(ash.stave, heartwood=replace(wood, strength=strong)))


def test_weight_goes_with_the_cube_of_the_thickness(unyielding: BowSetup) -> None:
    """Bending theory: 1.6 times the weight takes the cube root of 1.6 = 1.1696 of the thickness.

    Shear and the string give way, and the thickness runs from the handle's, which stays, to the
    limb's over a station: the half per cent.
    """
    weight = solve_bow(unyielding).full_draw.draw_force
    bow = scale_to(unyielding, draw_weight=1.6 * weight)
    assert bow.solved.full_draw.draw_force == pytest.approx(1.6 * weight, rel=5e-4)
    assert bow.factor == pytest.approx(1.6 ** (1.0 / 3.0), rel=5e-3)


@pytest.mark.slow
@pytest.mark.parametrize(("figure", "change"), [("mass", 0.95), ("strain", 1.08)])
def test_mass_and_strain_are_met(ash: BowSetup, figure: str, change: float) -> None:
    """Both nearly with the thickness: the curve keeps its shape, and a mass has a handle."""
    target = change * figure_of(solve_bow(ash), figure)
    bow = scale_to(ash, **{figure: target})
    assert figure_of(bow.solved, figure) == pytest.approx(target, rel=5e-4)
    assert bow.factor == pytest.approx(change, rel=0.04)
    limb = np.abs(ash.stave.x) > 0.09
    expected = np.where(limb, bow.factor, 1.0) * ash.stave.thickness
    np.testing.assert_allclose(bow.setup.stave.thickness, expected)


@pytest.mark.slow
def test_a_weight_no_bow_of_that_shape_reaches(ash: BowSetup) -> None:
    with pytest.raises(ConvergenceError, match=r"draw weight of 90000 N; the nearest reached is"):
        scale_to(ash, draw_weight=9e4)


def test_a_bow_that_cannot_be_solved_as_it_stands(ash: BowSetup) -> None:
    loose = adjust(ash, stringing={"brace_height": None, "length": 2.4})
    with pytest.raises(GeometryError, match=r"\[string\] length = 2400 mm"):
        scale_to(loose, draw_weight=100.0)


def test_one_figure_at_a_time(ash: BowSetup) -> None:
    with pytest.raises(ValueError, match="exactly one"):
        scale_to(ash, mass=0.5, strain=0.01)


def test_wood_comes_off_the_belly() -> None:
    """Knots and patches keep their depth below the back, the sapwood its thickness."""
    setup = build_setup(read_case(CASES / "elm_longbow.toml"))
    thin = scaled(setup, 0.9).stave

    def below_back(stave):
        points = [stave.knots[0].entry, stave.decays[0].center]
        half = 0.5 * shape_at(stave, [p[0] for p in points]).thickness
        return half - [p[2] for p in points]

    np.testing.assert_allclose(below_back(thin), below_back(setup.stave), atol=1e-12)
    np.testing.assert_array_equal(thin.sapwood, setup.stave.sapwood)
    with pytest.raises(GeometryError, match="leave some heartwood"):
        reshaped(setup.stave, thickness=0.25 * setup.stave.thickness)
