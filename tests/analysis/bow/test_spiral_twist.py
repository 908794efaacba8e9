"""How far spiral grain twists the tips of the drawn black locust bow, by two other methods."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline, make_interp_spline

from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import SolvedBow, solve_elastic
from limbfe.api import read_case
from limbfe.beam import measure, own_frame
from limbfe.case.build import build_setup
from limbfe.frames import rotate_stiffness
from limbfe.stave.profile import axis_at, grain_at
from limbfe.wood.elasticity import stiffness

CASES = Path(__file__).parents[3] / "cases"


@pytest.fixture(scope="module")
def solved() -> SolvedBow:
    given = build_setup(read_case(CASES / "locust_reflex.toml"))
    clear = adjust(given, stave=replace(given.stave, knots=()), analysis={"elements_per_limb": 32})
    return solve_elastic(adjust(clear, drawing={"steps": 2}, analysis={"fineness": 0.3}))


@pytest.mark.parametrize("limb", [0, 1])
def test_tip_twist_by_integrating_the_rod_from_the_grip(solved: SolvedBow, limb: int):
    """Cosserat's rod as an initial-value problem (scipy's solve_ivp), written without elements.

    The string's pull on the nock and the nock's place give the moment everywhere, so place and
    attitude follow from the grip outwards: r' = R (r0' + gamma s'), R' = R (k0 + kappa s'), with
    strains by the sections' compliance.  The elements' own error is of second order: 2e-4 here.
    """
    model, state = solved.model, solved.full_draw
    bow, stave = model.bow, model.setup.stave
    sign = 1.0 if limb else -1.0
    string = own_frame(bow, state, state.string_points)
    nock, towards = string[2 * limb], string[1] - string[2 * limb]
    # on the face that looks up the bow: the tip pulls at it, or (lower limb) is pulled by it
    pull = sign * state.string_tension[limb] * towards / np.linalg.norm(towards)
    start, end = sign * stave.stiff_length / 2.0, stave.x[-1] if limb else stave.x[0]
    grid = np.linspace(start, end, 3001)
    rest, turn = axis_at(stave, grid)
    middle = 0.5 * (grid[1:] + grid[:-1])
    rise = np.diff(turn, axis=0) / np.diff(grid)[:, None, None]
    bend = np.einsum("nji,njk->nik", turn[:-1] + turn[1:], rise) / 2.0
    along = np.einsum("nji,nj->ni", turn[:-1], np.diff(rest, axis=0) / np.diff(grid)[:, None])
    known = np.concatenate([along, bend[:, 2, 1:2], bend[:, 0, 2:], bend[:, 1, :1]], axis=1)
    order = np.argsort(middle)
    shape = make_interp_spline(middle[order], known[order], k=1)
    compliance = CubicSpline(model.stations.x, model.stations.sections.compliance)

    def slope(x: float, unknown: np.ndarray) -> np.ndarray:
        place, frame = unknown[:3], unknown[3:].reshape(3, 3)
        run, bent = np.split(shape(x), 2)
        load = frame.T @ np.stack([pull, np.cross(nock - place, pull)], axis=1)
        strain = compliance(x) @ load.T.ravel() * np.linalg.norm(run)
        w = bent + strain[3:]
        turning = np.array([[0.0, -w[2], w[1]], [w[2], 0.0, -w[0]], [-w[1], w[0], 0.0]])
        return np.concatenate([frame @ (run + strain[:3]), (frame @ turning).ravel()])

    first = np.concatenate([rest[0], turn[0].ravel()])
    found = solve_ivp(slope, (start, end), first, rtol=1e-6, atol=1e-9, max_step=0.02)
    place, frame = found.y[:3, -1], found.y[3:, -1].reshape(3, 3)
    positions = own_frame(bow, state, state.positions)
    assert place == pytest.approx(positions[-1 if limb else 0], abs=4e-4)
    moved = turn[-1].T @ frame
    twist = np.arctan2(moved[2, 1] - moved[1, 2], moved[1, 1] + moved[2, 2])
    expected = measure(bow, state, distance=0.4).tip_twist[limb]
    assert sign * np.degrees(twist) == pytest.approx(5.1, abs=0.4)
    assert expected == pytest.approx(twist, rel=2e-3)


@pytest.mark.parametrize("limb", [0, 1])
def test_the_parts_of_the_twist_by_hand(solved: SolvedBow, limb: int):
    """Bending twists the limb by 7.1 degrees, and the string's pull turns it back by 2.3.

    S. G. Lekhnitskii, Theory of Elasticity of an Anisotropic Body (from memory): bending twists
    off-axis wood by ``-S_16 / (2 S_11)`` of its curvature, whatever the outline, exactly for one
    wood with straight rings.  Here rings are arcs of 85 mm at the back and the tangent of the
    spiral falls with the distance from the pith, to 0.92 at mid-thickness; sapwood and the slope
    of the rings at the sides leave 3 %.
    """
    model, state = solved.model, solved.full_draw
    stave, bow = model.setup.stave, model.bow
    grain = grain_at(stave, 0.0)
    c, s = np.cos(grain.spiral), np.sin(grain.spiral)
    turned = np.array([[c, 0.0, -s], [s, 0.0, c], [0.0, 1.0, 0.0]])
    S = np.linalg.inv(rotate_stiffness(stiffness(stave.heartwood.elasticity), turned))
    ratio = -0.5 * S[0, 5] / S[0, 0] * (1.0 - 0.007 / grain.ring_radius)
    limb_of = slice(bow.model.upper, None) if limb else slice(0, bow.model.lower)
    half = 0.5 * bow.chain.length[limb_of, None]
    flexible = bow.chain.compliance[limb_of]
    loads, strains = state.resultants[limb_of], state.strains[limb_of]
    by_bending = float((half * flexible[..., 3, 4] * loads[..., 4]).sum())
    bent = float((half * strains[..., 4]).sum())
    assert by_bending == pytest.approx(ratio * bent, rel=0.03)
    by_torque = float((half * flexible[..., 3, 3] * loads[..., 3]).sum())
    total = float((half * strains[..., 3]).sum())
    assert by_bending + by_torque == pytest.approx(total, rel=0.01)
    assert -0.4 < by_torque / by_bending < -0.25
