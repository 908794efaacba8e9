"""The case that a fit writes: it is drawn as the bow was read."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

import limbfe
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import drawn_bow, solve_bow
from limbfe.analysis.bow.stations import solve_stations
from limbfe.case.build import build_setup
from limbfe.studies.fit import fit_readings
from limbfe.studies.fit.case_file import fitted_widths, write_fitted

from .bows import CASES, known
from .reading import read_readings


@pytest.mark.slow
def test_the_written_case_draws_the_fitted_curve(tmp_path):
    """Within 0.1 per cent of the force; the wood alone, its soft stations left out, misses by 0.5.

    What is left comes from the width between the stations, which the case has as a cubic and the
    fit as straight lines, and from the sections' tangents at the last estimate.
    """
    path = tmp_path / "ash.toml"
    text = (CASES / "ash_flatbow.toml").read_text(encoding="utf-8")
    path.write_text(f"{text}\n[analysis]\nfineness = 0.5\nelements_per_limb = 4\n")
    case = limbfe.read_case(path)
    setup = build_setup(case)
    readings = read_readings(CASES / "ash_flatbow_readings.csv", setup)
    fit = fit_readings(setup, readings, first_pull=True, one_wood=True)

    written = limbfe.read_case(write_fitted(case, fit, tmp_path / "fitted.toml"))

    def curve(bow):
        drawn = adjust(
            bow,
            holding={"kind": "tiller"},
            drawing={"length": float(fit.curve_length[-1]), "steps": 10},
        )
        return drawn_bow(solve_bow(drawn, beyond=False)).curve

    found = curve(build_setup(written))
    wanted = CubicSpline(fit.curve_length, fit.curve_force)(found.draw_length)
    np.testing.assert_allclose(found.force[1:], wanted[1:], rtol=1e-3)
    assert curve(fit.setup).force[-1] > 1.004 * fit.curve_force[-1]

    wood = written.file.wood.whole
    assert wood.cov["E_L"] == pytest.approx(fit.moduli[0].scatter, abs=1e-4)
    bounds = np.log([fit.crushing.low, fit.crushing.high])
    assert wood.cov["compression_strength"] == pytest.approx(np.ptp(bounds) / 3.92, abs=1e-3)
    limbs = written.file.limb
    np.testing.assert_array_equal(limbs.upper.thickness, case.file.limb.both.thickness)
    assert limbs.upper.width[5] < 0.93 * case.file.limb.both.width[5] < limbs.lower.width[5]


def test_widths_make_a_round_limb_as_stiff_as_it_was_read():
    """A crowned back and a round belly: stiffness is not in proportion to the width."""
    setup = known("elm_longbow").model.setup
    x = setup.stave.x[np.abs(setup.stave.x) > setup.stave.stiff_length / 2.0]
    ratio = 1.0 + 0.12 * np.sin(9.0 * x)
    fit = SimpleNamespace(
        stations=[SimpleNamespace(x=at, ratio=r) for at, r in zip(x, ratio, strict=True)]
    )
    wide = replace(setup, stave=replace(setup.stave, width=fitted_widths(setup, fit)))
    was, now = (1.0 / solve_stations(bow, x).sections.compliance[:, 4, 4] for bow in (setup, wide))
    np.testing.assert_allclose(now / was, ratio, rtol=1e-5)
    grip = np.abs(setup.stave.x) <= setup.stave.stiff_length / 2.0
    np.testing.assert_array_equal(wide.stave.width[grip], setup.stave.width[grip])
