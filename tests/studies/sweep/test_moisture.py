"""A bow drier and damper.

Directions: FPL, Wood Handbook, FPL-GTR-190 (2010), ch. 5: crushing strength falls by about a third
from 12 to 20 % moisture, stiffness by an eighth (from memory).
"""

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.kept import kept_set
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.errors import CaseError
from limbfe.report.moisture import moisture_picture, write_moisture_csv
from limbfe.studies.sweep.moisture import sweep_moisture
from limbfe.view.study.moisture import draw_moisture

ASH = Path(__file__).parents[3] / "cases" / "ash_flatbow.toml"
COARSE = "\n[analysis]\nelements_per_limb = 5\nfineness = 0.5\n"


def small(folder, *, keep_modulus):
    text = ASH.read_text(encoding="utf-8").replace("steps = 30", "steps = 8") + COARSE
    if not keep_modulus:
        text = "\n".join(line for line in text.splitlines() if not line.startswith("E_L"))
    path = folder / f"ash_{keep_modulus}.toml"
    path.write_text(text, encoding="utf-8")
    return read_case(path)


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    return small(tmp_path_factory.mktemp("moisture"), keep_modulus=False)


@pytest.fixture(scope="module")
def sweep(case):
    return sweep_moisture(case, (0.07, 0.11, 0.15), workers=1)


def test_dry_wood_is_stiffer_and_takes_less_set(sweep):
    weight, upper = sweep.column("draw_weight"), sweep.column("set_upper")
    assert np.all(np.diff(weight) < 0.0)
    assert weight[0] > 1.04 * weight[2]
    assert np.all(np.diff(upper) > 0.0)
    assert np.all(np.diff(sweep.column("compression")) > 0.0)
    assert np.all(sweep.column("breaking_draw") > 0.0)


def test_the_case_s_own_moisture_is_the_case(case, sweep):
    solved = exercised_bow(build_setup(case), beyond=False)
    one = sweep.points[1].figures
    assert sweep.own == pytest.approx(0.11)
    assert one["draw_weight"] == pytest.approx(solved.full_draw.draw_force, rel=1e-9)
    mean = 0.5 * (one["set_upper"] + one["set_lower"])
    assert mean == pytest.approx(kept_set(solved, bounds=False).mean, rel=1e-9)


def test_what_was_measured_stays(sweep, tmp_path):
    case = small(tmp_path, keep_modulus=True)
    found = sweep_moisture(case, (0.07, 0.15), workers=1)
    assert found.fixed[0].startswith("whole: E_L: given in the case")
    kept, free = found.column("draw_weight"), sweep.column("draw_weight")
    assert 1.0 < kept[0] / kept[1] < 0.95 * free[0] / free[2]
    told = found.to_dict()
    assert [point["moisture_percent"] for point in told["points"]] == pytest.approx([7.0, 15.0])
    assert told["points"][0]["set_mm"]["upper"] == pytest.approx(1e3 * found.column("set_upper")[0])


def test_csv_and_picture(case, sweep, tmp_path):
    path = write_moisture_csv(sweep, tmp_path / "m.csv")
    with path.open(encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    assert [float(row["moisture_percent"]) for row in rows] == pytest.approx([7, 11, 15])
    assert float(rows[2]["draw_weight_N"]) == pytest.approx(sweep.column("draw_weight")[2])
    figure = draw_moisture(moisture_picture(sweep, case.file.draw.length))
    assert len(figure.axes) == 4


def test_beyond_the_adjustment_is_refused(case):
    with pytest.raises(CaseError, match="moisture = 3 %"):
        sweep_moisture(case, (0.03, 0.1), workers=1)


def test_wood_without_a_species_is_refused(case):
    whole = case.file.wood.whole.model_copy(update={"species": None})
    wood = case.file.wood.model_copy(update={"whole": whole})
    changed = replace(case, file=case.file.model_copy(update={"wood": wood}))
    with pytest.raises(CaseError, match="names a species"):
        sweep_moisture(changed, (0.1,), workers=1)
