"""Every shipped case, found by glob: contract, energy, equilibrium, convergence, mirror image."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import set_depth, solve_bow, solve_elastic
from limbfe.analysis.results.skin import locate
from limbfe.api import read_case
from limbfe.beam import energy_given
from limbfe.case.build import bare_stave
from limbfe.curves import trapezoid
from limbfe.section.yielding.inelastic import lost_energy, stored_energy
from limbfe.stave.columns import COLUMNS
from limbfe.stave.profile import axis_at, shape_at
from limbfe.stave.reshape import with_more_stations
from limbfe.stave.stave import column, with_columns

CONTRACT = {
    "brace": {"brace_height_mm", "string_length_mm", "string_tension_N", "energy_J"},
    "draw": {
        "draw_length_mm",
        "draw_force_N",
        "string_tension_N",
        "energy_J",
        "draw_weight_N",
        "draw_weight_lbf",
        "draw_energy_J",
    },
    "limb": {
        "station_mm",
        "curvature_1_per_m",
        "moment_Nm",
        "back_strain",
        "belly_strain",
        "strength_used",
        "residual_curvature_1_per_m",
        "yielded_depth_mm",
    },
    "tips": {"upper", "lower"},
}
SPOT = {
    "limb",
    "at_mm",
    "across_mm",
    "depth_mm",
    "face",
    "stress_MPa",
    "strain",
    "mode",
    "strength_used",
}
DEFECT = {
    "name",
    "kind",
    "state",
    "fate",
    "together",
    "limb",
    "at_mm",
    "verdict",
    "mode",
    "strength_used",
    "strength_used_low",
    "strength_used_high",
    "wrinkling_used",
    "draw_length_at_split_mm",
    "draw_length_at_rupture_mm",
    "strength_ratio",
    "tension_ratio",
    "measured_ratio",
    "measured_ratio_sd",
    "limb_failure_probability",
    "split_length_mm",
    "split_course",
    "failure_probability",
    "advice",
}


def test_contract(assessment):
    result = json.loads(json.dumps(assessment.to_dict(), allow_nan=False))
    assert {"case", "version", "set_mm", "cautions", "assumptions"} <= result.keys()
    for block, keys in CONTRACT.items():
        assert keys <= result[block].keys()
    stations = {len(result["limb"][key]) for key in CONTRACT["limb"]}
    assert len(stations) == 1
    assert {"breaking_draw_length_mm", "mode", "limb", "at_mm", "face"} <= result[
        "clear_limb"
    ].keys()
    assert {"string_length_mm", "draw_weight_N", "draw_energy_J", "energy_lost_J"} <= result[
        "first_pull"
    ].keys()
    assert result["set_mm"].keys() == {"upper", "lower", "low", "high"}
    assert result["set_at_once_mm"].keys() == {"upper", "lower"}
    mean = 0.5 * (result["set_mm"]["upper"] + result["set_mm"]["lower"])
    assert result["set_mm"]["low"] < mean < result["set_mm"]["high"]
    assert 0.0 < result["draw"]["energy_lost_J"] < 0.03 * result["draw"]["draw_energy_J"]
    assert result["hot_spots"]
    assert all(spot.keys() == SPOT for spot in result["hot_spots"])
    assert all(defect.keys() == DEFECT for defect in result["defects"])
    stave = assessment.setup.stave
    assert len(result["defects"]) == len(stave.knots) + len(stave.decays)
    assert result["draw"]["draw_length_mm"][-1] == pytest.approx(
        1e3 * assessment.setup.drawing.length, abs=1e-6
    )


def test_work_of_the_pull_is_the_energy_stored(elastic_bow):
    states = (elastic_bow.braced, *elastic_bow.states)
    travel = np.array([state.travel for state in states])
    force = np.array([0.0, *(state.draw_force for state in elastic_bow.states)])
    stored = np.array([state.strain_energy + state.string_energy for state in states])
    work = CubicSpline(travel, force).integrate(travel[0], travel[-1])
    assert work == pytest.approx(stored[-1] - stored[0], rel=2e-5)


def test_work_of_the_first_draw_is_stored_or_lost_in_crushing(bow):
    """Energy audit of the yielding bow: pull = string + elastic wood + crushed wood."""
    section, chain = bow.section, bow.model.bow.chain
    length = np.repeat(chain.length / 2.0, 2)

    def held(state, plastic):
        strains = state.strains.reshape(-1, 6)
        stored = stored_energy(section, strains, plastic) + lost_energy(section, plastic)
        given = energy_given(chain, state.resultants) @ chain.length
        return state.string_energy + (stored * length).sum() + given

    states = (bow.braced, *bow.states)
    travel = np.array([state.travel for state in states])
    force = np.array([state.draw_force for state in states])
    work = CubicSpline(travel, force).integrate(travel[0], travel[-1])
    change = held(states[-1], bow.plastic[-1]) - held(states[0], bow.plastic[0])
    assert work == pytest.approx(change, rel=1e-5)
    assert (lost_energy(section, bow.plastic[-1]) * length).sum() > 0.0


def test_yielding_lowers_the_weight_and_leaves_a_set(bow, elastic_bow, assessment):
    """A belly pressed past its proportional limit carries less and does not come all the way back.

    Common practice: a new bow loses weight and follows the string after its first draws.
    """
    assert bow.full_draw.draw_force < elastic_bow.full_draw.draw_force
    assert 0.0 < assessment.set_depth < 0.1
    assert bow.braced.brace_height == pytest.approx(elastic_bow.braced.brace_height, abs=1e-9)


def test_limb_balances_the_string(exercised, assessment):
    """Statics by hand: the moment at every station is the string's pull times its lever arm.

    The frames between nodes are interpolated here, hence 2e-3 of the largest moment.  The stiff
    grip, which the beam holds, is moved as one piece, and cut where the string's halves part.
    """
    bow = exercised
    state, x = bow.full_draw, bow.model.stations.x
    place, frame = locate(assessment.drawn.poses[-1], x)
    stave, held = assessment.setup.stave, bow.model.bow
    grip = np.abs(x) < stave.stiff_length / 2
    rest, axes = axis_at(stave, x[grip])
    place[grip] = (rest - held.grip_back) @ state.frame.T + state.grip_back
    frame[grip] = state.frame @ axes
    upper = x > assessment.setup.holding.hand_at
    nock = np.where(upper[:, None], state.string_points[2], state.string_points[0])
    pull = state.nocking_point - nock
    tension = state.string_tension[np.where(upper, 1, 0)]
    force = pull * (tension / np.linalg.norm(pull, axis=1))[:, None]
    moment = np.einsum("sji,sj->si", frame, np.cross(nock - place, force))
    # The section's positive face looks up the bow: on the lower limb the string acts below it.
    moment *= np.where(upper, 1.0, -1.0)[:, None]
    largest = np.abs(moment[:, 1]).max()
    error = np.abs(moment - assessment.limb.resultants[:, 3:]).max()
    assert error < 2e-3 * largest
    assert grip.any()
    used = assessment.to_dict()["limb"]["strength_used"]
    assert [value is None for value in used] == grip.tolist()


@pytest.mark.slow
def test_default_mesh_is_converged(bow):
    """Force and set change by less than 0.2 per cent when everything is twice as fine."""
    setup = bow.model.setup
    fine = solve_bow(
        adjust(
            setup,
            analysis={
                "elements_per_limb": 2 * setup.analysis.elements_per_limb,
                "fineness": 2 * setup.analysis.fineness,
            },
            drawing={"steps": 2},
        )
    )
    assert bow.full_draw.draw_force == pytest.approx(fine.full_draw.draw_force, rel=2e-3)
    assert set_depth(bow) == pytest.approx(set_depth(fine), rel=2e-3)


def test_mirror_image_draws_alike(elastic_bow):
    """Swap the limbs and flip left and right: the same bow seen from the other side."""
    setup = elastic_bow.model.setup
    mirrored = adjust(
        setup,
        stave=_mirror(setup.stave),
        holding={"hand_at": -setup.holding.hand_at, "arrow_at": -setup.holding.arrow_at},
        drawing={"steps": 2},
    )
    other = solve_elastic(mirrored)
    assert other.full_draw.draw_force == pytest.approx(elastic_bow.full_draw.draw_force, rel=1e-6)
    here, there = elastic_bow.full_draw.positions, other.full_draw.positions[::-1]
    assert np.allclose(there, here * [1.0, -1.0, -1.0], atol=1e-7)


def _mirror(stave):
    odd = ("lean", "sideways", "twist", "run_out")
    columns = {name: (-1.0) ** (name in odd) * column(stave, name)[::-1] for name in COLUMNS}
    turn = np.array([-1.0, -1.0, 1.0])
    other = {"upper": "lower", "lower": "upper"}
    return replace(
        with_columns(stave, x=-stave.x[::-1], **columns),
        knots=tuple(
            replace(
                knot,
                limb=other[knot.limb],
                x=-knot.x,
                entry=knot.entry * turn,
                direction=knot.direction * turn,
            )
            for knot in stave.knots
        ),
        decays=tuple(
            replace(decay, limb=other[decay.limb], center=decay.center * turn)
            for decay in stave.decays
        ),
    )


def test_a_station_on_the_limb_s_own_curve_changes_its_stiffness_by_little():
    """The bending of the tip under a load there, by statics, with a station more in any gap.

    The slopes of the curve are those of the stations, so this is small and not nothing.
    """

    def bending(stave):
        x = np.linspace(0.5 * stave.stiff_length, stave.x[-1], 2001)
        shapes = shape_at(stave, x)
        return trapezoid((x[-1] - x) ** 2 / (shapes.width * shapes.thickness**3), x)

    for path in sorted((Path(__file__).parents[2] / "cases").glob("*.toml")):
        stave = bare_stave(read_case(path))
        gaps = np.flatnonzero(stave.x[:-1] >= 0.0)
        middles = 0.5 * (stave.x[gaps] + stave.x[gaps + 1])
        finer = [bending(with_more_stations(stave, [x])) for x in middles]
        assert np.array(finer) == pytest.approx(bending(stave), rel=2.5e-3)  # at most 0.2 %
