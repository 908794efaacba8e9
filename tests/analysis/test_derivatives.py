"""Exact derivatives of a drawn bow against finite differences of whole bows drawn again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.derivatives import draw_derivatives
from limbfe.analysis.hot_spots import locate_hot_spots, locate_worst
from limbfe.analysis.rates import stave_rates
from limbfe.analysis.shave import shave_map
from limbfe.analysis.solve import SolvedBow, solve_bow, solve_elastic
from limbfe.analysis.stress import stress_inside, stress_on_skin
from limbfe.api import read_case
from limbfe.beam import draw_sensitivity, own_frame
from limbfe.beam.measures import arc_from_grip, limb_distances
from limbfe.case.build import build_setup
from limbfe.errors import GeometryError, MaterialError
from limbfe.section.inelastic import lost_energy, stored_energy
from limbfe.stave.resize import reshaped

CASES = Path(__file__).parents[2] / "cases"
SMALL_STEP = 5e-6
"""m of thickness or width: so small that hardly a fibre comes to yield or lets go on the way (those
cost 6e-7), and so large that what Newton's residual leaves of the force, 1e-8 N, costs 2e-6."""


@pytest.fixture(scope="module")
def setup():
    """Reflexed, spiral-grained, crowned, with sapwood; limbs uneven, few elements."""
    given = build_setup(read_case(CASES / "locust_reflex.toml"))
    uneven = 1.0 + 0.04 * np.linspace(-1.0, 1.0, len(given.stave.x)) ** 3
    stave = replace(given.stave, knots=(), decays=(), thickness=given.stave.thickness * uneven)
    return replace(given, stave=stave, draw_steps=2, elements_per_limb=6, fineness=0.3)


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
    inside = stress_inside(solved.model, solved.section, strains, solved.plastic[-1])
    return stress_on_skin(solved.model, strains, inside), inside


def looked_at(solved: SolvedBow, like: SolvedBow) -> dict[str, np.ndarray]:
    places = locate_hot_spots(like.model, *stresses(like))
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
        (solve_elastic, "thickness", 5),
        (solve_elastic, "width", 14),
        (solve_bow, "thickness", 13),
        (solve_bow, "thickness", 9),
        (solve_bow, "width", 4),
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
    sides = []
    for step in (SMALL_STEP, -SMALL_STEP):
        values = np.array(getattr(setup.stave, column))
        values[station] += step
        other = solve(replace(setup, stave=reshaped(setup.stave, **{column: values})))
        sides.append(looked_at(other, solved))
    for name in sides[0]:
        slope = (sides[0][name] - sides[1][name]) / (2.0 * SMALL_STEP)
        rates = getattr(exact, name)[column]
        weight = np.array([100.0, 100.0, 100.0, 1.0, 1.0, 1.0]) if name == "strains" else 1.0
        gap = np.abs((rates[station] - slope) * weight).max()
        assert gap < 1e-5 * np.abs(rates * weight).max(), name


def test_a_shaving_against_the_bow_shaved(setup):
    """Half a tenth of a millimetre off the belly near the lower tip, and off the width.

    First order: the rest grows with the square of the shaving, here 1 % of the change; the worst
    place of the limb may be another one after it.
    """
    solved = solve_bow(setup, beyond=False)
    amount, station = 5e-5, 4
    found = shave_map(solved, off_belly=amount, off_width=amount)
    skin, inside = stresses(solved)
    now = max(place.used for place in locate_worst(solved.model, skin, inside))
    assert found.worst.strength_used == now
    for column, shaving in (("thickness", found.belly), ("width", found.sides)):
        values = np.array(getattr(setup.stave, column))
        values[station] -= amount
        other = solve_bow(
            replace(setup, stave=reshaped(setup.stave, **{column: values})), beyond=False
        )
        change = other.full_draw.draw_force - solved.full_draw.draw_force
        assert change < 0.0
        assert shaving.draw_weight[station] == pytest.approx(change, rel=0.01)
        worst = max(place.used for place in locate_worst(other.model, *stresses(other)))
        assert shaving.worst[station] - now == pytest.approx(worst - now, rel=0.02, abs=1e-6)
    assert found.to_dict()["off_belly_mm"] == pytest.approx(0.05)


def test_string_of_given_length(setup):
    """The brace height is free then; the nocking point stays level with the arrow."""
    length = float(solve_elastic(setup).braced.string_lengths.sum())
    given = replace(setup, brace_height=None, string_length=length)
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


def test_moduli_for_fitting(setup):
    """E_L of the heartwood against bows drawn again; E_L carries nearly all of the bending.

    Draw force is of the first degree in all moduli together (closed form: the equations are
    linear in them), so E_L's share of it is nearly one; the rest is the string's stretch and the
    shear moduli, which spiral grain brings in.
    """
    solved = solve_elastic(setup)
    names = ("heartwood_E_L", "sapwood_E_L")
    rates = stave_rates(solved.model, names)
    assert rates.quantity == names
    assert rates.station == (None, None)
    found = draw_sensitivity(
        solved.model.bow, solved.braced, solved.full_draw, rates.stiffness, rates.rest
    )
    heart = setup.stave.heartwood
    step, forces = 1e-5 * heart.elasticity.E_L, []
    for sign in (1.0, -1.0):
        elasticity = replace(heart.elasticity, E_L=heart.elasticity.E_L + sign * step)
        stave = replace(setup.stave, heartwood=replace(heart, elasticity=elasticity))
        forces.append(solve_elastic(replace(setup, stave=stave)).full_draw.draw_force)
    slope = (forces[0] - forces[1]) / (2.0 * step)
    assert found.force[0] == pytest.approx(slope, rel=1e-5)
    moduli = [heart.elasticity.E_L, setup.stave.sapwood_wood.elasticity.E_L]
    assert found.force @ moduli == pytest.approx(solved.full_draw.draw_force, rel=0.05)


def test_wood_taken_off_leaves_the_back_and_its_zones(setup):
    given = build_setup(read_case(CASES / "elm_longbow.toml")).stave
    thinner = reshaped(given, thickness=given.thickness - 0.001)
    for before, after in zip(given.knots, thinner.knots, strict=True):
        assert after.entry - before.entry == pytest.approx([0.0, 0.0, -0.0005], abs=1e-12)
    for before, after in zip(given.decays, thinner.decays, strict=True):
        assert after.center - before.center == pytest.approx([0.0, 0.0, -0.0005], abs=1e-12)


def test_unknown_quantities_are_refused(setup):
    model = solve_elastic(setup).model
    with pytest.raises(GeometryError, match="'reflex'"):
        stave_rates(model, ("reflex",))
    with pytest.raises(MaterialError, match="backing_E_L"):
        stave_rates(model, ("backing_E_L",))
