"""The figures of one bow against what can be worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import trapezoid

from limbfe.analysis.bow.model import build_model
from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.bow.solve import SolvedBow, solve_bow, solve_elastic
from limbfe.analysis.rates.derivatives import draw_derivatives
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.stave.profile import shape_at
from limbfe.stave.reshape import with_more_stations
from limbfe.stave.stave import Grain, Outline
from limbfe.studies.compare.measures import bow_mass, bow_measures, string_angle
from limbfe.studies.compare.slip import hollow, slip_of_the_tool

CASES = Path(__file__).parents[3] / "cases"


@pytest.fixture(scope="module")
def setup() -> BowSetup:
    found = build_setup(read_case(CASES / "ash_flatbow.toml"))
    return adjust(found, analysis={"fineness": 0.5, "elements_per_limb": 8}, drawing={"steps": 8})


@pytest.fixture(scope="module")
def elastic(setup: BowSetup) -> SolvedBow:
    return solve_elastic(setup)


def test_mass_of_two_rectangular_pyramids(setup: BowSetup) -> None:
    """Closed form: a prism of 46 x 13 mm over the grip, then width straight to the tips.

    Lower limb shorter than the upper.  The slope of the width is rounded over one station (5 mm)
    beside the grip and the tip, hence 1e-4.
    """
    lower, upper, grip, wide, narrow, thick = 0.81, 0.9, 0.09, 0.046, 0.011, 0.013
    x = np.concatenate([np.linspace(-lower, 0.0, 163)[:-1], np.linspace(0.0, upper, 181)])
    share = np.where(x < 0.0, (-x - grip) / (lower - grip), (x - grip) / (upper - grip))
    nothing = np.zeros_like(x)
    stave = replace(
        setup.stave,
        x=x,
        width=wide - (wide - narrow) * np.clip(share, 0.0, 1.0),
        thickness=np.full_like(x, thick),
        outline=Outline(crown=np.inf, belly="flat", belly_corner=0.0),
        grain=Grain(ring_radius=np.inf, run_out=0.0, sideways_grain=0.0, spiral=0.0),
        stiff_length=2.0 * grip,
        **dict.fromkeys(("sapwood", "lean", "backing", "reflex", "sideways", "twist"), nothing),
    )
    mass, outer = bow_mass(build_model(replace(setup, stave=stave)))
    density = stave.heartwood.density * thick

    def limb(length: float) -> tuple[float, float]:
        third = length / 3.0
        at_third = narrow + (wide - narrow) * third / (length - grip)
        mean, outer_mean = 0.5 * (wide + narrow), 0.5 * (at_third + narrow)
        return density * (grip * wide + (length - grip) * mean), density * third * outer_mean

    whole, thirds = np.sum([limb(lower), limb(upper)], axis=0)
    assert mass == pytest.approx(whole, rel=1e-4)
    assert outer == pytest.approx(thirds, rel=2e-4)


def test_energy_of_an_elastic_bow_is_what_limbs_and_string_hold(elastic: SolvedBow) -> None:
    """The curve is a spline through nine states, hence 3e-4."""
    figures = bow_measures(elastic)
    held = [s.strain_energy + s.string_energy for s in (elastic.braced, elastic.full_draw)]
    assert figures.energy == pytest.approx(held[1] - held[0], rel=3e-4)
    assert figures.energy_per_mass == pytest.approx(figures.energy / figures.mass)
    assert figures.energy_per_strain * figures.peak_strain == pytest.approx(0.01 * figures.energy)


def test_strain_of_a_flat_section_is_curvature_times_half_the_thickness(
    elastic: SolvedBow,
) -> None:
    """Bernoulli's beam (closed form); string pressure along the limb and shear are the rest."""
    model = elastic.model
    bends = model.stations.bends
    curvature = elastic.full_draw.strains.reshape(-1, 6)[:, 4]
    strain = (0.5 * curvature * model.stations.shapes.thickness)[bends]
    figures = bow_measures(elastic)
    assert figures.peak_strain == pytest.approx(strain.max(), rel=0.02)
    length = np.repeat(model.bow.chain.length / 2.0, 2)[bends]
    assert figures.mean_strain == pytest.approx(np.average(strain, weights=length), rel=0.02)
    assert figures.evenness == pytest.approx(figures.mean_strain / figures.peak_strain)


def test_string_angle_is_that_between_string_and_tip(elastic: SolvedBow) -> None:
    """Tips turned 30 and 50 degrees from upright; the string leaves them 40 and 20 from level."""
    lower, upper, below, above = np.radians([30.0, 50.0, 40.0, 20.0])
    rotations = np.array(elastic.full_draw.rotations)
    rotations[0, :, 0] = [-np.sin(lower), 0.0, np.cos(lower)]
    rotations[-1, :, 0] = [np.sin(upper), 0.0, np.cos(upper)]
    nocking = np.array([0.6, 0.0, 0.1])
    string = np.stack(
        [
            nocking - 0.8 * np.array([np.cos(below), 0.0, np.sin(below)]),
            nocking,
            nocking - 0.7 * np.array([np.cos(above), 0.0, -np.sin(above)]),
        ]
    )
    state = replace(
        elastic.full_draw, rotations=rotations, string_points=string, free_string=string
    )
    # 120 degrees from the string's way to the lower tip's inward way, were both in the plane
    expected = np.degrees(0.5 * (lower + np.pi / 2.0 - below + upper + np.pi / 2.0 - above))
    assert np.degrees(string_angle(state)) == pytest.approx(expected)


def test_early_force_is_read_off_the_draw_curve(setup: BowSetup) -> None:
    """The second of eight states; the braced bow tilts in the hand by hundredths of a mm."""
    solved = solve_bow(setup, beyond=False)
    quarter = solved.states[1]
    figures = bow_measures(solved)
    assert figures.early_force == pytest.approx(
        quarter.draw_force / solved.full_draw.draw_force, rel=1e-4
    )
    assert 0.25 < figures.early_force < 0.5
    assert figures.set_depth > 0.0


@pytest.mark.slow
def test_a_slip_strains_a_limb_as_bending_theory_says() -> None:
    """Half a millimetre off the thickness t raises the strain there by t^2 / (t - 0.5 mm)^2.

    On a pyramid of constant thickness and a wood that does not yield; a belly that yields gathers
    strain where it is thin.  The bow's highest strain lies a little off the hollow's middle, hence
    up to a tenth less.
    """
    found = build_setup(read_case(CASES / "tapers" / "pyramid_constant.toml"))
    wood = found.stave.heartwood
    strong = replace(
        wood.strength, compression=1e9, compression_proportional_limit=9e8, compression_plateau=9e8
    )
    stave = replace(found.stave, heartwood=replace(wood, strength=strong))
    rigid = adjust(found, stave=stave, drawing={"steps": 2}, analysis={"fineness": 0.5})
    slip = slip_of_the_tool(solve_bow(rigid, beyond=False))
    thickness = float(shape_at(stave, [slip.at]).thickness[0])
    by_hand = (thickness / (thickness - 0.5e-3)) ** 2 - 1.0
    assert 0.9 * by_hand < slip.strain_change < by_hand
    assert -0.01 < slip.weight_change < 0.0


def test_the_hollow_is_half_a_wave() -> None:
    x = np.linspace(0.24, 0.36, 1201)
    assert hollow(x, 0.3).max() == pytest.approx(0.5e-3)
    assert trapezoid(hollow(x, 0.3), x) == pytest.approx(0.5 * 0.5e-3 * 0.1)


@pytest.mark.slow
def test_a_slip_lightens_the_draw_as_the_derivatives_say() -> None:
    """The exact derivative by the thickness at every station, summed over the hollow.

    It is linear: half a millimetre is a twentieth of the thickness, and a second order of some
    per cent of the change is left.
    """
    found = build_setup(read_case(CASES / "tapers" / "through_grip_circular.toml"))
    coarse = adjust(
        found, drawing={"steps": 2}, analysis={"fineness": 0.5, "elements_per_limb": 48}
    )
    slip = slip_of_the_tool(solve_bow(coarse, beyond=False))
    stave = with_more_stations(coarse.stave, slip.at + np.linspace(-0.05, 0.05, 9))
    solved = solve_bow(replace(coarse, stave=stave), beyond=False)
    rate = draw_derivatives(solved, ("thickness",)).force["thickness"]
    expected = -(rate * hollow(stave.x, slip.at)).sum() / solved.full_draw.draw_force
    assert slip.weight_change == pytest.approx(expected, rel=0.08)
