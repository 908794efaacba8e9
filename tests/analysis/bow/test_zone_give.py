"""The bow bends at a knot, a hole or a soft patch as the plate round it does."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import solve_bow, solve_elastic
from limbfe.analysis.bow.stations import solve_stations
from limbfe.analysis.bow.zone_give import _spread, zone_give
from limbfe.analysis.rates.derivatives import draw_derivatives
from limbfe.api import read_case
from limbfe.beam import brace, draw, gauss_positions
from limbfe.case.build import build_setup
from limbfe.curves import spline
from limbfe.stave.reshape import reshaped
from limbfe.stave.stave import with_columns
from limbfe.wood.decay import decay_effect
from limbfe.wood.elasticity import Elasticity

from ...marked import marked_decay, marked_knot

ELM = Path(__file__).parents[3] / "cases" / "elm_longbow.toml"
AT = 0.300


@pytest.fixture(scope="module")
def setup():
    """The elm bow without zones."""
    elm = adjust(
        build_setup(read_case(ELM)),
        analysis={"elements_per_limb": 8, "fineness": 0.5},
        drawing={"steps": 24},
    )
    return replace(elm, stave=replace(elm.stave, knots=(), decays=()))


def with_hole(setup, diameter, **changes):
    given = {
        "name": "K", "limb": "upper", "at": AT, "face": "back", "across": 0.0,
        "diameter": diameter, "far_diameter": diameter, "state": "missing",
    }  # fmt: skip
    return with_zones(setup, knots=(marked_knot(setup.stave, **{**given, **changes}),))


def with_patch(setup, **changes):
    given = {
        "name": "P", "limb": "upper", "at": AT, "face": "belly", "across": 0.002,
        "length": 0.05, "width": 0.02, "depth": 0.005,
        "effect": decay_effect("advanced", "white"), "stage": "advanced", "rot": "white",
    }  # fmt: skip
    return with_zones(setup, decays=(marked_decay(setup.stave, **{**given, **changes}),))


def with_zones(setup, **zones):
    return replace(setup, stave=replace(setup.stave, **zones))


def extra(setup, node_x=None):
    """What a zone gives in all, plate and sections together, over the sound limb (3 by 3)."""
    node_x = AT + np.linspace(-0.1, 0.1, 41) if node_x is None else node_x
    give = zone_give(setup, node_x).give
    loads = np.ix_([0, 4, 5], [0, 4, 5])
    total = sum(length * one[loads] for length, one in zip(np.diff(node_x), give, strict=True))
    x = gauss_positions(node_x)
    sound = with_zones(setup, knots=(), decays=())
    both = [solve_stations(one, x.ravel()).sections.compliance for one in (setup, sound)]
    counted = (both[0] - both[1]).reshape(*x.shape, 6, 6).mean(axis=1)
    return total + sum(
        length * one[loads] for length, one in zip(np.diff(node_x), counted, strict=True)
    )


def test_a_knot_makes_a_limb_longer_as_in_a_solid(setup, monkeypatch):
    """A live knot of 8 mm and 2 GPa in 40 by 15 mm, fibres flowing round it, bends as 4.69 mm more.

    Own solid of 27-node bricks; no rings bulge there.  The sections alone count 1.1 mm.
    """
    monkeypatch.setattr("limbfe.analysis.piece.piece.BULGE", 0.0)
    found = extra(with_hole(bar(setup), 0.008, state="live"))
    EI = 10e9 * 0.040 * 0.015**3 / 12
    assert found[1, 1] * EI == pytest.approx(4.69e-3, rel=0.03)


def test_a_drilled_hole_makes_a_limb_longer_as_in_a_solid(setup):
    """A hole of 8 mm drilled through straight fibres bends as 6.25 mm more: the same solid."""
    found = extra(with_hole(bar(setup), 0.008, state="drilled"))
    EI = 10e9 * 0.040 * 0.015**3 / 12
    assert found[1, 1] * EI == pytest.approx(6.25e-3, rel=0.03)


def test_a_hole_from_the_side_gives_as_one_from_the_back(setup):
    """In a square bar whose wood is alike across: turned by a right angle, the same answer."""
    square = bar(setup)
    n = len(square.stave.x)
    alike = Elasticity(
        E_L=10e9, E_R=1e9, E_T=1e9, G_LR=0.7e9, G_LT=0.7e9, G_RT=0.3e9,
        nu_LR=0.35, nu_LT=0.35, nu_RT=0.4,
    )  # fmt: skip
    heart = replace(square.stave.heartwood, elasticity=alike)
    stave = with_columns(square.stave, width=np.full(n, 0.02), thickness=np.full(n, 0.02))
    square = replace(square, stave=replace(stave, heartwood=heart))
    back = extra(with_hole(square, 0.006, state="drilled"))
    side = extra(with_hole(square, 0.006, state="drilled", face="left"))
    turn = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, -1.0, 0.0]])
    assert turn.T @ side @ turn == pytest.approx(back, rel=1e-3, abs=1e-3 * back[0, 0])


def bar(setup):
    """The wood of plate and solid, 40 by 15 mm all along, its fibres straight."""
    stave, n = setup.stave, len(setup.stave.x)
    names = ("lean", "reflex", "sideways", "run_out", "sideways_grain", "spiral")
    none = dict.fromkeys(names, np.zeros(n))
    flat = with_columns(
        stave,
        width=np.full(n, 0.040),
        thickness=np.full(n, 0.015),
        **none,
    )
    wood = Elasticity(
        E_L=10e9, E_R=1e9, E_T=0.7e9, G_LR=0.8e9, G_LT=0.7e9, G_RT=0.1e9,
        nu_LR=0.35, nu_LT=0.35, nu_RT=0.4,
    )  # fmt: skip
    outline = replace(stave.outline, crown=np.full(n, np.inf), belly="flat")
    heart = replace(stave.heartwood, elasticity=wood)
    return replace(
        setup,
        stave=replace(
            flat,
            outline=outline,
            heartwood=heart,
            sapwood_wood=None,
            sapwood=np.zeros(n),
            grain=replace(flat.grain, ring_radius=np.full(n, np.inf)),
        ),
    )


def test_the_give_of_an_element_is_that_of_softer_sections(setup):
    """Sections with the compliance F + X, or sections F and elements that give X: the same bow."""
    bow = solve_elastic(setup).model.bow
    chain = bow.chain
    X = np.zeros((6, 6))
    X[np.ix_([0, 4, 5], [0, 4, 5])] = np.diag([2e-8, 2e-2, 4e-3]) + 1e-6
    softer = np.linalg.inv(chain.compliance + X)
    B = chain.transport
    give = 0.5 * np.einsum("mgki,kl,mglj->mij", B, X, B)
    both = [
        replace(bow, chain=replace(chain, **change))
        for change in ({"stiffness": softer}, {"give": give})
    ]
    states = []
    for one in both:
        braced = brace(one, height=0.155)
        states.append(draw(one, braced, [0.5, 0.6]).states[-1])
    by_sections, by_give = states
    assert by_give.draw_force == pytest.approx(by_sections.draw_force, rel=1e-9)
    assert by_give.strain_energy == pytest.approx(by_sections.strain_energy, rel=1e-9)
    own = np.einsum("mgij,mgj->mgi", chain.compliance, by_give.resultants)
    assert by_give.strains == pytest.approx(own, rel=1e-9, abs=1e-12)
    loose = draw(bow, brace(bow, height=0.155), [0.6]).states[-1]
    assert by_give.draw_force < 0.98 * loose.draw_force


def test_work_put_in_is_energy_held(setup):
    """The area under an elastic bow's curve is what it holds more than braced (statics)."""
    solved = solve_elastic(with_hole(setup, 0.012))
    states = (solved.braced, *solved.states)
    travel = [state.travel for state in states]
    work = spline(np.array(travel), np.array([0.0, *(s.draw_force for s in solved.states)]))
    held = [state.strain_energy + state.string_energy for state in states]
    put_in = work.antiderivative()(travel[-1]) - work.antiderivative()(travel[0])
    assert put_in == pytest.approx(held[-1] - held[0], rel=1e-4)


def test_weight_never_rises_because_of_rot_or_a_hole(setup):
    """Less wood, less weight; a larger zone, less again (energy of the softer body, statics)."""
    few = adjust(setup, drawing={"steps": 3})

    def weight(one):
        return solve_bow(one, beyond=False).full_draw.draw_force

    whole = weight(few)
    holes = [weight(with_hole(few, d)) for d in (0.004, 0.008, 0.012)]
    depths = [weight(with_patch(few, depth=d)) for d in (0.001, 0.003, 0.005, 0.008)]
    mild = weight(with_patch(few, effect=decay_effect("incipient", "white")))
    assert np.all(np.diff([whole, *holes]) < 0.0)
    assert np.all(np.diff([whole, *depths]) < 0.0)
    assert depths[2] < mild < whole


def test_the_bow_bends_at_the_weak_place(setup):
    """The elements at a hole turn more than those of the limb without it, the rest does not."""
    few = adjust(setup, drawing={"steps": 3})
    hole = with_hole(few, 0.012)
    solved = solve_elastic(hole)
    model = solved.model
    state = solved.full_draw
    mean = np.linalg.solve(model.bow.chain.transport[:, 0], state.resultants[:, 0, :, None])[..., 0]
    turned = np.einsum("mij,mj->mi", model.zones.give, mean)[:, 4] * np.diff(model.node_x)
    middle = 0.5 * (model.node_x[1:] + model.node_x[:-1])
    there = np.abs(middle - AT) < 0.006
    assert np.all(turned[~there] == 0.0)
    moment = -state.resultants[there, :, 4].mean()
    F = model.stations.sections.compliance.reshape(-1, 2, 6, 6)[there][:, :, 4, 4].mean()
    longer = -turned[there].sum() / moment / F
    # own solid, 8 mm in 40 mm: 6.25 mm of limb more than sound, of which the sections count 1.3
    assert 0.006 < longer < 0.02


def test_sections_and_plate_are_not_counted_twice(setup):
    """However the beam is divided, sections and give together make what the plate says."""
    hole = with_hole(setup, 0.010)
    found = [extra(hole, AT + np.linspace(-0.08, 0.08, n)) for n in (17, 33, 57)]
    for one in found[1:]:
        assert one == pytest.approx(found[0], rel=1e-9, abs=1e-9 * found[0].max())


def test_shaving_at_a_hole_is_told_with_its_give(setup):
    """The derivative at the hole's station against two bows drawn anew, elastic."""
    hole = with_hole(adjust(setup, drawing={"steps": 3}), 0.012)
    solved = solve_elastic(hole)
    at = int(np.abs(hole.stave.x - AT).argmin())
    rate = draw_derivatives(solved, ("thickness",)).force["thickness"][at]
    step = 4e-4
    forces = []
    for sign in (1.0, -1.0):
        sizes = np.array(hole.stave.thickness)
        sizes[at] += sign * step
        other = replace(hole, stave=reshaped(hole.stave, thickness=sizes))
        forces.append(solve_elastic(other).full_draw.draw_force)
    assert rate == pytest.approx((forces[0] - forces[1]) / (2.0 * step), rel=5e-3)


def test_a_zone_without_a_plate_is_named(setup):
    """Holes that overlap have no plate: the beam counts them by its sections and says so."""
    one = marked_knot(
        setup.stave, name="K", limb="upper", at=AT, face="back", across=0.0,
        diameter=0.010, far_diameter=0.010, state="missing",
    )  # fmt: skip
    two = marked_knot(
        setup.stave, name="M", limb="upper", at=AT + 0.004, face="back", across=0.003,
        diameter=0.010, far_diameter=0.010, state="missing",
    )  # fmt: skip
    given = zone_give(with_zones(setup, knots=(one, two)), AT + np.linspace(-0.1, 0.1, 41))
    assert not given.give.any()
    assert len(given.words) == 1
    assert "overlap" in str(given.words[0])


def test_a_zone_that_gives_nothing_leaves_the_beam_as_it_is():
    """Neither its plate nor its sections count anything: a shallow patch in a stiff place."""
    give = np.zeros((3, 6, 6))
    _spread(give, np.full(3, 0.01), np.array([1, 2]), np.zeros((3, 3)), np.zeros((3, 3, 3)))
    assert np.isfinite(give).all()
    assert not give.any()
