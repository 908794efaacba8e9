"""Exact derivatives of a drawn bow against finite differences of whole bows drawn again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import SolvedBow, solve_bow, solve_elastic
from limbfe.analysis.rates.derivatives import draw_derivatives
from limbfe.analysis.rates.shave import shave_map
from limbfe.analysis.wood.hot_spots import locate_hot_spots, locate_worst
from limbfe.analysis.wood.stretched import worked_wood
from limbfe.api import read_case
from limbfe.beam import own_frame
from limbfe.beam.strung.measures import arc_from_grip, limb_distances
from limbfe.case.build import build_setup
from limbfe.section.yielding.inelastic import lost_energy, stored_energy
from limbfe.stave.reshape import reshaped

CASES = Path(__file__).parents[3] / "cases"
SMALL_STEP, EXERCISED_STEP = 5e-6, 3e-7
"""m of thickness or width: so small that hardly a fibre comes to yield or lets go on the way (those
cost 6e-7; once exercised many are near to it), and so large that what Newton's residual leaves of
the force, 1e-8 N, costs 2e-6."""


@pytest.fixture(scope="module")
def setup():
    """Reflexed, spiral-grained, crowned, with sapwood; limbs uneven, few elements."""
    given = build_setup(read_case(CASES / "locust_reflex.toml"))
    uneven = 1.0 + 0.04 * np.linspace(-1.0, 1.0, len(given.stave.x)) ** 3
    stave = replace(given.stave, knots=(), decays=(), thickness=given.stave.thickness * uneven)
    return adjust(
        given, stave=stave, drawing={"steps": 2}, analysis={"elements_per_limb": 6, "fineness": 0.3}
    )


def work(solved: SolvedBow) -> float:
    """Work of the pull from brace to full draw, by what limbs and string have taken up."""
    total = []
    for state, plastic in (
        (solved.braced, solved.plastic[0]),
        (solved.full_draw, solved.plastic[-1]),
    ):
        strains = state.strains.reshape(-1, 6)
        density = stored_energy(solved.section, strains, plastic)
        density = density + lost_energy(solved.section, plastic)
        pieces = solved.model.bow.chain.length * density.reshape(-1, 2).mean(axis=1)
        total.append(pieces.sum() + state.string_energy)
    return float(total[1] - total[0])


def stresses(solved: SolvedBow):
    strains = solved.full_draw.strains.reshape(-1, 6)
    return worked_wood(solved.model.stations, solved.section, strains, solved.plastic[-1])


def looked_at(solved: SolvedBow, like: SolvedBow) -> dict[str, np.ndarray]:
    places = locate_hot_spots(like.model.stations, *stresses(like))
    skin, inside = stresses(solved)
    used = [
        getattr((skin if p.on_skin else inside).used, p.mode)[p.station, p.point] for p in places
    ]
    half_way = 0.5 * min(-like.model.setup.stave.x[0], like.model.setup.stave.x[-1])
    off = []
    for state in (solved.braced, solved.full_draw):
        bow = solved.model.bow
        here, string = (own_frame(bow, state, p) for p in (state.positions, state.string_points))
        off.append(np.diff(limb_distances(arc_from_grip(like.model.bow), here, string, half_way)))
    return {
        "force": np.array(solved.full_draw.draw_force),
        "energy": np.array(work(solved)),
        "strains": solved.full_draw.strains.reshape(-1, 6),
        "strength_used": np.array(used),
        "tiller_braced": off[0],
        "tiller_drawn": off[1],
    }


@pytest.mark.parametrize(
    ("solve", "column", "station"),
    [
        (solve_elastic, "width", 14),
        (solve_bow, "thickness", 9),
        (solve_bow, "width", 4),
        (exercised_bow, "thickness", 13),
        (exercised_bow, "thickness", 9),
    ],
)
def test_against_bows_drawn_again(setup, solve, column, station):
    """One in 100,000 of the largest change by any station, yielding belly or not.

    Station 9 is the middle of the grip, where belly and back of the grip, and so brace height
    and draw length, move with the thickness.
    """
    solved = solve(setup)
    exact = draw_derivatives(solved, (column,))
    assert solve is solve_elastic or (solved.plastic[-1] > 0.0).mean() > 0.1
    sides, small = [], EXERCISED_STEP if solve is exercised_bow else SMALL_STEP
    for step in (small, -small):
        values = np.array(getattr(setup.stave, column))
        values[station] += step
        other = solve(replace(setup, stave=reshaped(setup.stave, **{column: values})))
        sides.append(looked_at(other, solved))
    for name in sides[0]:
        slope = (sides[0][name] - sides[1][name]) / (2.0 * small)
        rates = getattr(exact, name)[column]
        weight = np.array([100.0, 100.0, 100.0, 1.0, 1.0, 1.0]) if name == "strains" else 1.0
        gap = np.abs((rates[station] - slope) * weight).max()
        assert gap < 1e-5 * np.abs(rates * weight).max(), name


def test_a_shaving_against_the_bow_shaved(setup):
    """Half a tenth of a millimetre off the belly near the lower tip, and off the width.

    First order: the rest grows with the square of the shaving, here 1 % of the change; the worst
    place of the limb may be another one after it.
    """
    solved = exercised_bow(setup, beyond=False)
    amount, station = 5e-5, 4
    found = shave_map(solved, off_belly=amount, off_width=amount)
    skin, inside = stresses(solved)
    now = max(place.used for place in locate_worst(solved.model.stations, skin, inside))
    assert found.worst.strength_used == now
    for column, shaving in (("thickness", found.belly), ("width", found.sides)):
        values = np.array(getattr(setup.stave, column))
        values[station] -= amount
        other = exercised_bow(
            replace(setup, stave=reshaped(setup.stave, **{column: values})), beyond=False
        )
        change = other.full_draw.draw_force - solved.full_draw.draw_force
        assert change < 0.0
        assert shaving.draw_weight[station] == pytest.approx(change, rel=0.01)
        worst = max(place.used for place in locate_worst(other.model.stations, *stresses(other)))
        assert shaving.worst[station] - now == pytest.approx(worst - now, rel=0.02, abs=1e-6)
    assert found.to_dict()["off_belly_mm"] == pytest.approx(0.05)


def test_string_of_given_length(setup):
    """The brace height is free then; the nocking point stays level with the arrow."""
    length = float(solve_elastic(setup).braced.string_lengths.sum())
    given = adjust(setup, stringing={"brace_height": None, "length": length})
    exact = draw_derivatives(solve_elastic(given), ("thickness",))
    values = [np.array(setup.stave.thickness) for _ in range(2)]
    step = 1e-6
    values[0][4] += step
    values[1][4] -= step
    high, low = (
        solve_elastic(replace(given, stave=reshaped(given.stave, thickness=v))) for v in values
    )
    slope = (high.full_draw.draw_force - low.full_draw.draw_force) / (2.0 * step)
    assert exact.force["thickness"][4] == pytest.approx(slope, rel=1e-5)
    assert work(high) - work(low) == pytest.approx(2.0 * step * exact.energy["thickness"][4], 1e-4)


def test_exercised_on_a_string_of_given_length(setup):
    """Its first brace height is free, and the string is adjusted to that height afterwards."""
    length = float(solve_bow(setup).braced.string_lengths.sum())
    given = adjust(setup, stringing={"brace_height": None, "length": length})
    exact = draw_derivatives(exercised_bow(given), ("thickness",))
    values = [np.array(setup.stave.thickness) for _ in range(2)]
    values[0][4] += EXERCISED_STEP
    values[1][4] -= EXERCISED_STEP
    high, low = (
        exercised_bow(replace(given, stave=reshaped(given.stave, thickness=v))) for v in values
    )
    slope = (high.full_draw.draw_force - low.full_draw.draw_force) / (2.0 * EXERCISED_STEP)
    assert exact.force["thickness"][4] == pytest.approx(slope, rel=1e-5)


def test_wood_taken_off_leaves_the_back_and_its_zones(setup):
    given = build_setup(read_case(CASES / "elm_longbow.toml")).stave
    thinner = reshaped(given, thickness=given.thickness - 0.001)
    for before, after in zip(given.knots, thinner.knots, strict=True):
        assert after.entry - before.entry == pytest.approx([0.0, 0.0, -0.0005], abs=1e-12)
    for before, after in zip(given.decays, thinner.decays, strict=True):
        assert after.center - before.center == pytest.approx([0.0, 0.0, -0.0005], abs=1e-12)
