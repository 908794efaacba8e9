"""Known bows, read on the tiller with scatter, and what a fit makes of the readings."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import binom, kstest

from limbfe.errors import CaseError, MaterialError
from limbfe.stave.profile import shape_at
from limbfe.studies.fit import fit_readings
from limbfe.studies.fit.estimate import estimate
from limbfe.studies.fit.findings import BOUND, find_moduli
from limbfe.studies.fit.parameters import find_parameters
from limbfe.studies.fit.predict import _Places, predict
from tests.many import many

from .bows import Known, forces, known, positions

NEWTONS = (300.0, 430.0, 560.0)


def some_stiffness(bow: Known, seed: int) -> np.ndarray:
    root = bow.parameters.root
    return root @ np.random.default_rng(seed).standard_normal(len(root))


@pytest.mark.parametrize(
    ("name", "exercised", "tolerance"),
    [("ash_flatbow", True, 1e-7), ("elm_longbow", True, 1e-7), ("ash_flatbow", False, 3e-4)],
)
def test_derivatives(name: str, exercised: bool, tolerance: float):
    """Against central differences of whole draws.

    In a first draw the difference itself is rough: the step makes fibres begin to yield, one
    after the other, each with a jump of its own stiffness.
    """
    bow = known(name)
    rows = forces(*NEWTONS) + positions(560, -310, 415) + positions(None, -655, 830)
    asked = bow.read(rows, np.zeros(len(bow.parameters.scatter)), exercised=exercised)
    logs = 0.5 * some_stiffness(bow, 3)
    args = (bow.model, bow.parameters, bow.sections, asked)
    found = predict(*args, logs, exercised=exercised)
    count = len(bow.parameters.woods) + (0 if exercised else 1)
    for k in [*range(count), count + 2, len(logs) - 4]:
        step = np.zeros(len(logs))
        step[k] = 1e-4
        more = predict(*args, logs + step, exercised=exercised).value
        less = predict(*args, logs - step, exercised=exercised).value
        scale = np.abs(found.rates).max(axis=1)
        assert np.abs((more - less) / 2e-4 - found.rates[:, k]).max() < tolerance * scale.max()


def test_a_known_bow_is_found_again_without_scatter():
    """Exact readings, hardly any prior: the modulus and every station that was moved."""
    bow = known("ash_flatbow")
    wide = replace(bow.parameters, prior=0.25 * np.eye(len(bow.parameters.prior)))
    logs = np.zeros(len(wide.scatter))
    logs[0], logs[5], logs[-5] = 0.11, -0.13, 0.08
    rows = forces(*NEWTONS, scatter=1e-3)
    for draw in (430.0, 560.0):
        rows += positions(draw, *(1e3 * bow.parameters.x), scatter=1e-6)
    readings = bow.read(rows, logs, exercised=True)
    found = estimate(bow.model, wide, readings, bow.sections, exercised=True)
    (modulus,) = find_moduli(wide, found)
    # the bounds of a lognormal value lie as many times above it as below
    assert modulus.low < modulus.value < modulus.high
    assert modulus.low * modulus.high == pytest.approx(modulus.value**2, rel=1e-9)
    assert np.log(modulus.value / modulus.case) == pytest.approx(found.logs[0], abs=1e-12)
    common = found.logs[0] + np.mean(found.logs[2:-1])
    assert common == pytest.approx(logs[0] + np.mean(logs[2:-1]), abs=2e-3)
    np.testing.assert_allclose(found.prediction.value, readings.value, atol=2e-3)


def test_order_of_rows_does_not_matter():
    bow = known("ash_flatbow")
    rows = forces(*NEWTONS) + positions(430, -310, 830)
    readings = bow.read(rows, some_stiffness(bow, 5), np.random.default_rng(1), exercised=True)
    turned = replace(readings, rows=readings.rows[::-1])
    one, other = (
        estimate(bow.model, bow.parameters, r, bow.sections, exercised=True)
        for r in (readings, turned)
    )
    np.testing.assert_allclose(one.logs, other.logs, atol=1e-9)
    np.testing.assert_allclose(one.covariance, other.covariance, atol=1e-12)


def test_forces_alone_tell_neither_sapwood_nor_the_softer_limb():
    bow = known("elm_longbow")
    readings = bow.read(forces(*NEWTONS), some_stiffness(bow, 2), exercised=True)
    fit = fit_readings(bow.model.setup, readings)
    said = "\n".join(map(str, fit.warnings))
    assert "cannot tell sapwood from heartwood: only the mix" in said
    assert "do not tell which limb is the stiffer" in said
    heart, sap = fit.moduli
    assert heart.learned < 0.9
    assert sap.learned < 0.9
    share = np.array([0.7, 0.3])
    assert share @ fit.covariance[:2, :2] @ share < 0.3 * heart.scatter**2
    assert all(station.finding == "not known" for station in fit.stations)


def test_a_slip_of_the_pen_is_pointed_out_and_a_soft_place_found():
    bow = known("ash_flatbow")
    logs = np.zeros(len(bow.parameters.scatter))
    soft = int(np.argmin(np.abs(bow.parameters.x - 0.435)))
    logs[2 + soft] = -0.18
    rows = forces(300, 365, 430, 495, 560, scatter=1.0)
    for draw in (430.0, 560.0):
        rows += positions(draw, *(1e3 * bow.parameters.x), scatter=3e-4)
    readings = bow.read(rows, logs, np.random.default_rng(7), exercised=True)
    slip = replace(readings.rows[1], value=readings.rows[1].value + 9.0)
    readings = replace(readings, rows=(readings.rows[0], slip, *readings.rows[2:]))
    fit = fit_readings(bow.model.setup, readings, one_wood=True)
    assert [row.line for row, bad in zip(readings.rows, fit.suspect, strict=True) if bad] == [3]
    assert any("line 3: the force reads" in str(text) for text in fit.warnings)
    assert fit.probability < 0.01
    assert any("disagree by more than the stated scatter" in str(text) for text in fit.warnings)
    assert fit.stations[soft].finding == "softer"
    assert fit.stations[soft].low < np.exp(-0.18) < fit.stations[soft].high
    assert fit.stations[soft].thicker < -0.3e-3
    upper = [s for s in fit.stations if s.x > 0.0]
    assert min(upper, key=lambda s: s.ratio) is fit.stations[soft]


@pytest.mark.slow
def test_a_crushing_strength_beyond_belief_is_a_doubt_and_no_finding():
    """Readings of limbs that answered elastically, taken for a first pull."""
    bow = known("ash_flatbow")
    logs = np.zeros(len(bow.parameters.scatter))
    rows = forces(300, 365, 430, 495, 560, 620, scatter=0.5)
    rows += positions(560, *(1e3 * bow.parameters.x), scatter=3e-4)
    readings = bow.read(rows, logs, exercised=True)
    fit = fit_readings(bow.model.setup, readings, one_wood=True, first_pull=True)
    assert "crushing strength 1." in str(fit.warnings[0])
    assert "leave --first-pull out" in str(fit.warnings[0])
    assert not fit.crushing.told
    assert fit.crushing.ratio == pytest.approx(1.0, abs=1e-3)
    asked = fit_readings(bow.model.setup, readings, one_wood=True)
    assert not any("crushing strength" in str(text) for text in asked.warnings)
    assert asked.moduli[0].value == pytest.approx(asked.moduli[0].case, rel=0.01)


def test_forces_in_another_unit_are_refused():
    bow = known("ash_flatbow")
    nothing = np.zeros(len(bow.parameters.scatter))
    readings = bow.read(forces(*NEWTONS), nothing, exercised=True)
    rows = tuple(replace(row, value=row.value / 4.448) for row in readings.rows)
    wrong = replace(readings, rows=rows)
    with pytest.raises(CaseError, match=r"are 0\.22 times what the case pulls .* the units right"):
        estimate(bow.model, bow.parameters, wrong, bow.sections, exercised=True)


def test_a_wood_without_scatter_is_refused():
    bow = known("ash_flatbow")
    stave = bow.model.setup.stave
    sure = replace(stave.heartwood.strength, cov={})
    heart = replace(stave.heartwood, strength=sure)
    setup = replace(bow.model.setup, stave=replace(stave, heartwood=heart))
    with pytest.raises(MaterialError, match="no coefficient of variation of E_L"):
        find_parameters(setup)


def trials(bow: Known, count: int, *, exercised: bool, seed: int) -> np.ndarray:
    """Return misfits (count, p) in posterior standard deviations, of bows drawn from the prior."""
    rng = np.random.default_rng(seed)
    tips = 1e3 * bow.model.setup.stave.x[[0, -1]]
    rows = forces(*NEWTONS) + positions(430, *tips) + positions(560, *tips, -435, 435)
    off = []
    for _ in range(count):
        logs = bow.parameters.root @ rng.standard_normal(len(bow.parameters.root))
        readings = bow.read(rows, logs, rng, exercised=exercised)
        found = estimate(bow.model, bow.parameters, readings, bow.sections, exercised=exercised)
        off.append((found.logs - logs) / np.sqrt(np.diag(found.covariance)))
    return np.array(off)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "exercised", "count"),
    [("elm_longbow", True, many(40)), ("ash_flatbow", False, many(8))],
)
def test_bounds_hold_as_often_as_they_say(name: str, exercised: bool, count: int):
    """Bows drawn from the prior, read with scatter: each modulus within its own bounds.

    If bounds hold with probability 0.95, the number of trials in which they do is binomial; it
    must lie in that distribution's 99 per cent interval (for 40 trials, 34 to 40).
    """
    bow = known(name)
    off = trials(bow, count, exercised=exercised, seed=11)
    low, high = binom.interval(0.99, count, 0.95)
    for k in range(len(bow.parameters.woods) + (0 if exercised else 1)):
        assert low <= np.sum(np.abs(off[:, k]) < BOUND) <= high
    inside = np.mean(np.abs(off) < BOUND)
    assert inside == pytest.approx(0.95, abs=0.03)
    assert kstest(off[:, 0], "norm").pvalue > 0.01


def test_a_place_between_two_nodes_is_read_off_their_own_element():
    """A limb straight to one node and bent beyond it, by hand: the straight part stays straight."""
    bow = known("ash_flatbow")
    x = bow.model.node_x
    bend = len(x) - 4
    z0, c = x[bend], 0.4
    ahead = c * np.maximum(x - z0, 0.0) ** 2
    slope = 2.0 * c * np.maximum(x - z0, 0.0)
    along = np.stack([-slope, 0.0 * x, np.ones(len(x))], axis=1) / np.hypot(1.0, slope)[:, None]
    back = np.stack([-along[:, 2], 0.0 * x, along[:, 0]], axis=1)
    rotations = np.stack([along, np.cross(back, along), back], axis=2)
    positions_of = np.stack([-ahead, 0.0 * x, x], axis=1)
    nodes = SimpleNamespace(
        draw_force=0.0, frame=np.eye(3), rotations=rotations, positions=positions_of,
        grip_back=np.zeros(3), nocking_point=np.zeros(3),
    )  # fmt: skip
    rates = SimpleNamespace(nodes=np.zeros((1, len(x), 6)), nocking_point=np.zeros((1, 3)))
    chain = SimpleNamespace(length=np.diff(x))
    still = SimpleNamespace(chain=chain, grip_back=np.zeros(3), model=None)
    for e in (bend - 3, bend - 2, bend - 1):
        for share in (0.25, 0.75):
            at = x[e] + share * (x[e + 1] - x[e])
            half = 0.5 * float(shape_at(bow.model.setup.stave, [at]).thickness[0])
            value, _ = _Places(bow.model).read(still, SimpleNamespace(x=at), nodes, rates)
            assert value == pytest.approx(-half, abs=1e-12)
