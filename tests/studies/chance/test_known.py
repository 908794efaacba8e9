"""What readings say of what varies, against the normal update in closed form.

A. Tarantola, Inverse Problem Theory (2005), sec. 3.2; for one unknown of prior variance s2 read as
y with variance v the mean is ``y s2 / (s2 + v)``, the variance ``s2 v / (s2 + v)`` (closed form).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import limbfe
from limbfe.cli import main
from limbfe.errors import CaseError
from limbfe.failure.indices import variance_indices
from limbfe.frames import Array
from limbfe.studies.chance.bows import FULL
from limbfe.studies.chance.inputs import MOISTURE, Errors, build_inputs, factors
from limbfe.studies.chance.known import (
    METER,
    Known,
    Read,
    fit_logs,
    given_read,
    with_moisture,
)
from limbfe.studies.chance.quick import quick_bows
from limbfe.studies.chance.told import sampled

from .test_chance import CASES, coarse
from .test_quick import NO_ZONES, setup, unbent

READINGS = CASES / "ash_flatbow_readings.csv"


def without_field():
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    return replace(inputs, along=0.0 * inputs.along)


def stiffness_read(inputs, value, scatter):
    """The logarithm of stiffness itself, read."""
    u = np.concatenate([np.zeros((1, inputs.count)), np.eye(inputs.count)])
    logs = factors(inputs, u).logs[:, 0]
    return Read(
        rates=(logs[1:] - logs[0])[None],
        value=np.array([value - logs[0]]),
        covariance=np.array([[scatter**2]]),
    )


def test_stiffness_that_was_read_is_the_normal_update():
    """Draw weight of an unbent bow goes with stiffness alone: prior ln 1.04, read 0.9 to 5 %."""
    inputs = without_field()
    s2, v, y = np.log1p(0.2**2), 0.05**2, np.log(0.9)
    known = given_read(stiffness_read(inputs, y, 0.05))
    bows = sampled(replace(unbent(inputs), known=known), 40_000, 3)
    own = unbent(inputs).force[FULL]
    force = np.log(bows.force[:, FULL] / own)
    before = -0.5 * s2
    exact_mean = before + (y - before) * s2 / (s2 + v)
    exact_sd = np.sqrt(s2 * v / (s2 + v))
    assert force.mean() == pytest.approx(exact_mean, abs=4.0 * exact_sd / 200.0)
    assert force.std() == pytest.approx(exact_sd, rel=0.02)


def test_what_is_kin_to_stiffness_moves_with_it():
    """Strength across the grain, of correlation rho with stiffness, moves by rho s_a / s_E."""
    inputs = without_field()
    known = given_read(stiffness_read(inputs, np.log(0.8), 1e-6))
    u = np.random.default_rng(5).standard_normal((60_000, inputs.count))
    logs = factors(inputs, known.inputs_of(u)).logs
    rho, s_e, s_a = (inputs.root @ inputs.root.T)[0, 3], inputs.sigma[0], inputs.sigma[3]
    exact = -0.5 * s_a**2 + rho * s_a / s_e * (np.log(0.8) + 0.5 * s_e**2)
    assert logs[:, 0] == pytest.approx(np.full(60_000, np.log(0.8)), abs=1e-5)
    assert logs[:, 3].mean() == pytest.approx(exact, abs=0.01 * s_a)
    assert logs[:, 3].std() == pytest.approx(s_a * np.sqrt(1.0 - rho**2), rel=0.02)


def test_nothing_read_leaves_everything_and_readings_in_two_lots_are_readings_in_one():
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    rng = np.random.default_rng(8)
    rates, value = rng.standard_normal((6, inputs.count)), rng.standard_normal(6)

    def lot(rows):
        return Read(rates=rates[rows], value=value[rows], covariance=0.3 * np.eye(len(rows)))

    none = given_read(lot([]))
    assert np.all(none.mean == 0.0)
    assert none.root == pytest.approx(np.eye(inputs.count), abs=1e-12)
    one = given_read(lot([0, 1, 2, 3, 4, 5]))
    first = given_read(lot([0, 1, 2]))
    second = given_read(
        Read(
            rates=rates[3:] @ first.root,
            value=value[3:] - rates[3:] @ first.mean,
            covariance=0.3 * np.eye(3),
        )
    )
    assert first.inputs_of(second.mean[None])[0] == pytest.approx(one.mean, abs=1e-10)
    both = first.root @ second.root
    assert both @ both.T == pytest.approx(one.root @ one.root.T, abs=1e-10)


def test_moisture_that_was_read_is_the_normal_update():
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    nothing = Read(
        rates=np.zeros((0, inputs.count)), value=np.zeros(0), covariance=np.zeros((0, 0))
    )
    known = given_read(with_moisture(inputs, nothing, 0.02))
    k = inputs.groups["moisture"][0]
    assert MOISTURE * known.mean[k] == pytest.approx(
        0.02 * MOISTURE**2 / (MOISTURE**2 + METER**2), rel=1e-12
    )


def test_what_a_fit_looks_for_is_linear_in_the_inputs():
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    x, h = np.array([-0.5, 0.1, 0.4]), np.array([0.02, 0.03, 0.02])

    def at(u):
        return fit_logs(inputs, u, x, h, 2)

    u, v = np.random.default_rng(1).standard_normal((2, 5, inputs.count))
    zero = at(np.zeros((1, inputs.count)))
    assert at(u + 2.0 * v) - zero == pytest.approx(at(u) - zero + 2.0 * (at(v) - zero), abs=1e-12)
    # a thickness everywhere 1 % too great is stiffer by 3 %
    one = np.zeros((1, inputs.count))
    one[0, inputs.groups["thickness"][0]] = 1.0
    more = (at(one) - zero)[0, 3:]
    assert more == pytest.approx(3.0 * 0.5 * inputs.spread.calliper / h, rel=1e-6)


def test_first_indices_of_dependent_inputs():
    """Of a sum of two normals of correlation r each alone tells (1 + r)^2 / (2 + 2 r) of it."""
    r = 0.6
    covariance = np.array([[1.0, r], [r, 1.0]])
    known = Known(mean=np.zeros(2), root=np.linalg.cholesky(covariance))
    first, second = np.random.default_rng(4).standard_normal((2, 40_000, 2))

    def model(z: Array) -> dict[str, Array]:
        return {"sum": known.inputs_of(z).sum(axis=1)}

    found = variance_indices(model, {"a": (0,), "b": (1,)}, first, second, known.exchanged)["sum"]
    for one in found.values():
        assert one.first == pytest.approx((1.0 + r) / 2.0, abs=0.02)
        assert one.total == pytest.approx((1.0 - r**2) / (2.0 + 2.0 * r), abs=0.02)


def test_samples_without_readings_are_what_they_were():
    inputs = build_inputs(setup(), Errors(), *NO_ZONES)
    chances = unbent(inputs)
    u = np.random.default_rng(1).standard_normal((50, chances.columns))
    nothing = Known(mean=np.zeros(inputs.count), root=np.eye(inputs.count))
    same = quick_bows(replace(chances, known=nothing), u)
    assert same.force == pytest.approx(quick_bows(chances, u).force, rel=1e-12)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"readings": "no_such_file.csv"}, "no_such_file"),
        ({"hold": "tiller"}, "name their file"),
        ({"first_pull": True}, "name their file"),
        ({"readings": str(READINGS), "hold": "vice"}, "hold vice"),
    ],
)
def test_slips_with_readings_are_named(tmp_path, words, said):
    with pytest.raises(CaseError, match=said):
        limbfe.chance(coarse("ash_flatbow", tmp_path), **words)


def test_a_file_that_is_none_is_one_line(tmp_path, capsys):
    path = Path(coarse("ash_flatbow", tmp_path))
    assert main(["chance", str(path), "--readings", str(path)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1


@pytest.mark.slow
def test_draw_weight_given_readings_is_that_of_the_fit(tmp_path):
    """Draw weight with its scatter as `fit` has it at the last reading, by another way.

    The fit knows it from its own posterior; here it comes from quick bows.  They differ by what
    each lets vary beside the wood (string, archer, moisture against nothing).
    """
    path = coarse("ash_flatbow", tmp_path)
    words = {"bows": 24, "samples": 4000, "workers": 2, "journal": tmp_path / "bows.jsonl"}
    read = {"readings": str(READINGS), "first_pull": True}
    found = limbfe.chance(path, **words, **read)
    fresh = limbfe.chance(path, **words)
    fit = limbfe.fit(path, READINGS, first_pull=True)
    at = 0.66
    force = np.interp(at, fit.curve_length, fit.curve_force)
    middle = np.interp(at, found.fan["draw_length"], found.fan["middle"])
    assert middle == pytest.approx(force, rel=0.015)
    assert found.draw_weight.sd < 0.25 * fresh.draw_weight.sd
    assert found.told is not None
    (modulus,) = found.told.moduli
    assert modulus.value == pytest.approx(fit.moduli[0].value, rel=0.03)
    assert modulus.case == fit.moduli[0].case
    # what the readings have told is not asked to be measured again
    assert found.indices["draw weight"]["stiffness"].first < 0.5
    again = limbfe.chance(path, **words, **read).to_dict()
    assert again == found.to_dict()
