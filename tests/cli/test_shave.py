"""``limbfe shave``, in this process and with few elements."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from limbfe.cli import main

ASH = Path(__file__).parents[2] / "cases" / "ash_flatbow.toml"


@pytest.fixture(scope="module")
def case(tmp_path_factory) -> str:
    path = tmp_path_factory.mktemp("shave") / "ash.toml"
    coarse = "\n[analysis]\nelements_per_limb = 5\nfineness = 0.5\n"
    path.write_text(ASH.read_text().replace("steps = 30", "steps = 8") + coarse)
    return str(path)


def test_map_in_json_and_tables(case, capsys):
    assert main(["shave", case, "--off-belly", "1/64 in", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["off_belly_mm"] == pytest.approx(25.4 / 64)
    for side in ("belly", "sides"):
        assert len(found[side]["draw_weight_change_N"]) == len(found["station_mm"])
    # limbs alike, held by hand below the middle: shavings off either are nearly alike in weight
    weight = found["belly"]["draw_weight_change_N"]
    assert weight[3] == pytest.approx(weight[-4], rel=0.15)
    assert found["belly"]["tiller_braced_change_mm"][-4] > 0.0
    assert found["belly"]["tiller_braced_change_mm"][3] < 0.0
    assert main(["shave", case]) == 0
    said = capsys.readouterr().out
    assert "Taking 0.5 mm off the belly" in said
    assert "off the width, half on each side" in said


@pytest.mark.parametrize(
    ("words", "said"),
    [(["--off-belly", "1 cm"], "up to 3 mm"), (["--off-width", "wide"], "--off-width")],
)
def test_sizes_that_are_no_shaving(case, capsys, words, said):
    assert main(["shave", case, *words]) == 2
    assert said in capsys.readouterr().err
