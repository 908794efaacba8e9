"""One door for Python: paths or cases, numbers or text, results as dictionaries and rows."""

from __future__ import annotations

import ast
import json
from pathlib import Path

import numpy as np
import pytest

import limbfe
from limbfe.cli import main
from limbfe.errors import CaseError

CASES = Path(__file__).parents[1] / "cases"
COARSE = "\n[analysis]\nelements_per_limb = 6\nfineness = 0.5\n"


@pytest.fixture
def elm(tmp_path):
    path = tmp_path / "elm.toml"
    text = (CASES / "elm_longbow.toml").read_text().replace("steps = 30", "steps = 8")
    path.write_text(text.replace('diameter = "8 mm"', 'diameter = "4 mm"') + COARSE)
    return path


@pytest.fixture
def ash(tmp_path):
    path = tmp_path / "ash.toml"
    path.write_text((CASES / "ash_flatbow.toml").read_text() + COARSE)
    return path


def test_every_name_is_a_function_and_no_package():
    for name in limbfe.__all__:
        assert name == "__version__" or callable(getattr(limbfe, name))
        assert not (Path(limbfe.__file__).parent / name / "__init__.py").exists()


def test_what_is_written_for_type_checkers_is_what_is_there():
    tree = ast.parse(Path(limbfe.__file__).read_text("utf-8"))
    named = [
        name.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module == "limbfe.api"
        for name in node.names
    ]
    assert ["__version__", *named] == limbfe.__all__


def test_text_and_number_path_and_case_say_the_same(ash):
    by_text = limbfe.draw(ash, "26 in")
    by_number = limbfe.draw(limbfe.read_case(ash), 0.6604)
    assert by_text.to_dict() == by_number.to_dict()
    rows = by_text.rows()
    assert [row["draw_force_N"] for row in rows] == list(by_text.curve.force)
    with pytest.raises(ValueError, match="read-only"):
        by_text.curve.force[0] = 1.0


def test_the_command_prints_what_the_function_says(ash, capsys):
    main(["pull", str(ash), "--string-length", "1.95 m", "--force", "45 lbf", "--json"])
    pulled = limbfe.pull(ash, "1.95 m", force="45 lbf")
    assert json.loads(capsys.readouterr().out) == pulled.to_dict()
    assert len(pulled.rows()) == len(pulled.x)


@pytest.mark.slow
def test_one_zone_is_judged_as_its_command_prints_it(elm, capsys):
    main(["defect", str(elm), "A", "--json"])
    judged = limbfe.judge_zone(elm, "A")
    assert json.loads(capsys.readouterr().out) == judged.to_dict()
    assert len(judged.rows()) == len(judged.to_dict()["depths"])


@pytest.mark.slow
def test_a_sweep_has_a_row_for_every_point(elm):
    found = limbfe.sweep(elm, "A", diameter="4:8:4 mm")
    assert [row["diameter_mm"] for row in found.rows()] == pytest.approx([4.0, 8.0])
    assert found.column("strength_used").shape == (2,)


@pytest.mark.slow
def test_sizing_and_shaving_have_rows_by_station(ash):
    sized = limbfe.size(ash, "40 lbf")
    assert len(sized.rows()) == len(sized.x)
    shaved = limbfe.shave(ash, off_belly=0.3e-3)
    assert [row["station_mm"] for row in shaved.rows()] == pytest.approx(list(1e3 * shaved.x))
    assert np.isfinite([row["belly_draw_weight_change_N"] for row in shaved.rows()]).all()


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda: limbfe.draw(CASES / "ash_flatbow.toml", "26 lbf"), "length"),
        (lambda: limbfe.pull(CASES / "ash_flatbow.toml", "1.9 m"), "one of force and tip_movement"),
        (lambda: limbfe.size(CASES / "ash_flatbow.toml", -3.0), "draw_weight .* above zero"),
        (lambda: limbfe.size(CASES / "ash_flatbow.toml", 150.0, tip="9 mm"), "goes with even"),
        (lambda: limbfe.compare([CASES / "ash_flatbow.toml"]), "at least two"),
        (lambda: limbfe.sweep(CASES / "ash_flatbow.toml"), "give its name"),
        (lambda: limbfe.sweep(CASES / "ash_flatbow.toml", moisture=[float("nan")]), "a number"),
        (lambda: limbfe.rules("shortn"), "did you mean"),
        (lambda: limbfe.rules("shorten", workers=0), "at least 1"),
    ],
)
def test_slips_are_named_as_they_were_typed(ask, said):
    with pytest.raises(CaseError, match=said):
        ask()


@pytest.mark.slow
def test_readings_and_rules():
    fit = limbfe.fit(
        CASES / "ash_flatbow.toml", CASES / "ash_flatbow_readings.csv", first_pull=True
    )
    assert len(fit.rows()) == len(fit.stations)
    study = limbfe.rules("shorten", bows=2)
    (finding,) = study.findings
    assert len(study.rows()) == len(finding.rule.values)
