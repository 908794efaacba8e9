"""The shipped readings, whose header says what they were computed from."""

import numpy as np
import pytest

import limbfe
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import solve_bow
from limbfe.case.build import build_setup
from limbfe.studies.fit import Fit, fit_readings
from limbfe.studies.fit.case_file import write_fitted

from .bows import CASES
from .reading import read_readings


@pytest.mark.slow
def test_the_shipped_readings_give_back_their_bow(tmp_path):
    case = limbfe.read_case(CASES / "ash_flatbow.toml")
    setup = build_setup(case)
    readings = read_readings(CASES / "ash_flatbow_readings.csv", setup)
    fit = fit_readings(setup, readings, first_pull=True, one_wood=True)
    (modulus,) = fit.moduli
    assert modulus.low < 0.93 * 12.1e9 < modulus.high
    assert fit.crushing.low < 1.0 < fit.crushing.high
    assert not any(fit.suspect)
    assert 0.01 < fit.probability < 0.99
    softer = [round(1e3 * station.x) for station in fit.stations if station.finding == "softer"]
    assert softer == [435, 570]
    inside = [s.low < true < s.high for s, true in zip(fit.stations, _true(fit), strict=True)]
    assert np.mean(inside) > 0.85

    written = limbfe.read_case(write_fitted(case, fit, tmp_path / "fitted.toml"))
    last = [row for row in readings.rows if row.what == "force"][-1]
    again = adjust(build_setup(written), drawing={"length": last.draw_length, "steps": 6})
    assert solve_bow(again).full_draw.draw_force == pytest.approx(last.value, rel=0.03)


def _true(fit: Fit) -> np.ndarray:
    true = np.ones(len(fit.stations))
    for k, station in enumerate(fit.stations):
        true[k] = {435: 0.84, 570: 0.92, -300: 1.08}.get(round(1e3 * station.x), 1.0)
    return true
