"""Who is best at what: figures, sentences, table and CSV of made-up bows."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from limbfe.report.compare import compare_picture, compare_tables, write_csv
from limbfe.studies.compare.compared import told_apart
from limbfe.units import IMPERIAL, METRIC
from limbfe.view.study.compare import standing, write_comparison

from .compared_bows import comparison


def printed(width: int, **options: object) -> str:
    console = Console(width=width, file=io.StringIO(), color_system=None)
    console.print(compare_tables(comparison(), options.get("units", METRIC)))  # type: ignore[arg-type]
    return console.file.getvalue()  # type: ignore[attr-defined]


def test_the_best_are_named_and_near_ones_share() -> None:
    found = comparison()
    assert found.best["mass"] == (2,)
    assert found.best["peak_strain"] == (1,)
    assert found.best["slip_strain"] == (4,)
    assert "stored" not in found.best, "within two per cent nobody is best"
    assert "evenness" not in found.best
    first, second = found.summary
    assert first.startswith('Bow 1 "Wide" strains its wood least, stores most for its peak strain')
    assert 'Bow 2 "Narrow" is the lightest, has the lightest outer limbs and stores' in second
    assert second.endswith('bow 4 "Thick" suffers least from a slip of the tool.')


def test_bows_of_one_title_are_told_apart_by_their_files() -> None:
    wide, narrow, thick = comparison().bows
    called = told_apart((wide, replace(narrow, title="Wide"), thick))
    assert called == {1: "Wide (bow_1)", 2: "Wide (bow_2)", 4: "Thick"}


def test_what_was_made_equal_has_no_best() -> None:
    assert "mass" not in comparison("mass").best
    assert "peak_strain" not in comparison("strain").best


def test_table_fits_the_terminal_and_marks_the_best() -> None:
    wide = printed(80).splitlines()
    mass = next(line for line in wide if line.startswith("mass, g"))
    assert mass.split() == ["mass,", "g", "610", "550*", "660"]
    assert any(line.startswith("bow ") and line.split() == ["bow", "1", "2", "4"] for line in wide)
    narrow = printed(34).splitlines()
    assert sum(line.startswith("bow ") for line in narrow) == 2
    assert max(map(len, wide)) <= 80
    assert "it breaks" in " ".join(wide)


def test_imperial_figures() -> None:
    """46.8 J over 0.61 kg are 46.8 / 1.355818 ft lbf over 0.61 / 0.45359237 lb."""
    line = next(x for x in printed(80, units=IMPERIAL).splitlines() if "ft lbf/lb" in x)
    assert float(line.split()[3].rstrip("*")) == pytest.approx(
        46.8 / 1.355818 / (0.61 / 0.45359237), abs=0.05
    )


def test_csv_and_json_carry_the_same(tmp_path: Path) -> None:
    found = comparison()
    path = write_csv(found, tmp_path / "bows.csv")
    rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))
    whole = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    assert [row["name"] for row in rows] == ["bow_1", "bow_2", "bow_4", "bow_3"]
    assert rows[3]["left_out"] == whole["left_out"][0]["reason"] == "it breaks"
    for row, bow in zip(rows, whole["bows"], strict=False):
        assert {key: row[key] for key in bow} == {key: str(value) for key, value in bow.items()}
    assert rows[1]["mass_g"] == "550.0"
    assert whole["equal"] == "draw_weight"


def test_picture_ranks_every_figure(tmp_path: Path) -> None:
    picture = compare_picture(comparison(), METRIC)
    panels = {panel.title: panel for panel in picture.panels}
    assert len(panels) == 12
    np.testing.assert_array_equal(standing(panels["mass, g"]), [1, 0, 2])
    np.testing.assert_array_equal(standing(panels["energy stored, J"]), [2, 1, 0])
    np.testing.assert_allclose(panels["string angle, full draw, deg"].values[0], np.degrees(1.3))
    assert write_comparison(picture, tmp_path / "bows.png").stat().st_size > 20_000
