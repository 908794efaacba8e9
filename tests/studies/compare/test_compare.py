"""Bows brought to one figure: met, left out with the reason, the same however many workers."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from limbfe.api import read_case
from limbfe.case.schema import Case
from limbfe.cli import main
from limbfe.errors import CaseError, ConvergenceError
from limbfe.studies.compare.compare import compare_bows, figure_of_case
from limbfe.studies.compare.compared import Target

TAPERS = Path(__file__).parents[3] / "cases" / "tapers"
COARSE = "\n[analysis]\nelements_per_limb = 8\nfineness = 0.5\n"


def coarse(name: str, folder: Path, *, loose: bool = False) -> Path:
    """Write a shipped taper with coarse elements, or with a string that is far too long."""
    text = (TAPERS / f"{name}.toml").read_text(encoding="utf-8")
    text = text.replace("steps = 12", "steps = 8").replace('length = "27 in"', 'length = "680 mm"')
    if loose:
        text = text.replace('brace_height = "150 mm"', 'length = "1.9 m"')
    path = folder / f"{'loose' if loose else name}.toml"
    path.write_text(text + COARSE, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def cases(tmp_path_factory: pytest.TempPathFactory) -> list[Case]:
    folder = tmp_path_factory.mktemp("tapers")
    return [
        read_case(coarse("pyramid_constant", folder)),
        read_case(coarse("through_grip_circular", folder)),
        read_case(coarse("pyramid_constant", folder, loose=True)),
    ]


def to_seven_digits(found: dict[str, Any]) -> Any:
    """Sums may end in another last digit where the arrays lie otherwise in memory."""
    return json.loads(json.dumps(found), parse_float=lambda text: float(f"{float(text):.7g}"))


@pytest.mark.slow
def test_the_weight_is_met_and_workers_change_nothing(cases: list[Case], tmp_path: Path) -> None:
    target, journal = Target(figure="draw_weight", value=150.0), tmp_path / "finished.jsonl"
    alone = compare_bows(cases, target, workers=1, journal=journal)
    assert [bow.name for bow in alone.bows] == ["pyramid_constant", "through_grip_circular"]
    for bow in alone.bows:
        assert bow.measures.draw_weight == pytest.approx(150.0, rel=5e-4)
        assert bow.slip.strain_change > 0.0 > bow.slip.weight_change
        assert bow.figure("thickness_change") == bow.factor - 1.0
        assert 0.6 < bow.stored / bow.measures.energy < 1.0, "the belly keeps a part"
    assert [one.name for one in alone.left_out] == ["loose"]
    assert "[string] length = 1900 mm" in alone.left_out[0].reason
    together = compare_bows(cases, target, workers=2)
    assert to_seven_digits(together.to_dict()) == to_seven_digits(alone.to_dict())
    resumed = compare_bows(cases, target, workers=1, journal=journal)
    assert resumed.to_dict() == alone.to_dict()
    with pytest.raises(CaseError, match="another study"):
        compare_bows(cases, Target(figure="mass", value=0.5), workers=1, journal=journal)


@pytest.mark.slow
def test_the_first_bow_sets_the_figure(cases: list[Case]) -> None:
    target = figure_of_case(cases[0], "mass")
    found = compare_bows(cases[:2], target, workers=1)
    assert found.bows[0].factor == pytest.approx(1.0, abs=1e-3)
    assert found.bows[1].measures.mass == pytest.approx(found.bows[0].measures.mass, rel=1e-3)
    assert "mass" not in found.best


def test_no_bow_left_is_a_failed_solve(cases: list[Case]) -> None:
    with pytest.raises(ConvergenceError, match=r"no bow is left.*\[string\] length"):
        compare_bows([cases[2], cases[2]], Target(figure=None), workers=1)


def test_one_bow_is_no_comparison(cases: list[Case]) -> None:
    with pytest.raises(CaseError, match="at least two"):
        compare_bows(cases[:1], Target(figure=None))


PYRAMID, ROUND = (str(TAPERS / f"{name}.toml") for name in ("pyramid_constant", "convex_circular"))
REFUSED = {
    "one case": ([PYRAMID], "at least two cases"),
    "twice the same": ([PYRAMID, ROUND, PYRAMID], "is given twice"),
    "two wishes": ([PYRAMID, ROUND, "--draw-weight", "40 lbf", "--equal", "mass"], "keep one"),
    "no weight": ([PYRAMID, ROUND, "--draw-weight", "0 lbf"], "must be above zero"),
    "no unit": ([PYRAMID, ROUND, "--draw-weight", "40"], '--draw-weight "40"'),
    "no workers": ([PYRAMID, ROUND, "--workers", "0"], "must be at least 1"),
    "no such folder": ([PYRAMID, ROUND, "--png", "nowhere/tapers.png"], "make it first"),
    "no such file": ([PYRAMID, "pyramid.toml"], "no such file"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refusals(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    words, expected = REFUSED[name]
    assert main(["compare", *words]) == 2
    printed = capsys.readouterr()
    assert expected in printed.err
    assert printed.err.count("\n") == 1
    assert printed.out == ""


@pytest.mark.slow
def test_command_writes_table_picture_and_csv(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    names = ("pyramid_constant", "through_grip_even_strain")
    paths = [str(coarse(name, tmp_path)) for name in names]
    png, table, kept = (tmp_path / name for name in ("bows.png", "bows.csv", "kept.jsonl"))
    words = ["--draw-weight", "35 lbf", "--workers", "1", "--keep", str(kept)]
    assert main(["compare", *paths, *words, "--png", str(png), "--csv", str(table)]) == 0
    printed = capsys.readouterr().out
    assert "2 bows, all brought to a draw weight of 156 N" in printed
    assert "Bow 2" in printed
    assert png.stat().st_size > 20_000
    assert table.read_text(encoding="utf-8").count("\n") == 3
    assert main(["compare", *paths, *words, "--json"]) == 0
    printed = capsys.readouterr().out
    found = json.loads(printed)
    assert printed.count("\n") == 1
    assert [bow["name"] for bow in found["bows"]] == list(names)
    assert found["bows"][0]["draw_weight_N"] == pytest.approx(35.0 * 4.4482216, rel=5e-4)
