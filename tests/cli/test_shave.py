"""``limbfe shave``, in this process and with few elements."""

from __future__ import annotations

import json
from fractions import Fraction
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
    # limbs alike, held by hand below the middle: the lower works harder and its belly is further
    # past its peak, so a shaving there costs more
    weight = found["belly"]["draw_weight_change_N"]
    assert 1.8 * weight[-4] < weight[3] < weight[-4] < 0.0
    assert found["belly"]["tiller_braced_change_mm"][-4] > 0.0
    assert found["belly"]["tiller_braced_change_mm"][3] < 0.0
    assert main(["shave", case]) == 0
    said = capsys.readouterr().out
    assert "Taking 0.5 mm off the belly" in said
    assert "off the width, half on each side" in said


@pytest.mark.parametrize("off", [None, "1/64 in", "0.5 mm"])
def test_the_shaving_named_in_inches_is_the_one_taken_off(case, capsys, off):
    """Half a millimetre is a quarter more than 1/64 in."""
    words = ["shave", case, "--units", "imperial", *([] if off is None else ["--off-belly", off])]
    assert main([*words, "--json"]) == 0
    taken = json.loads(capsys.readouterr().out)["off_belly_mm"] / 25.4
    assert main(words) == 0
    said = capsys.readouterr().out.split("Taking ")[1].split(" in off the belly")[0]
    assert float(Fraction(said)) == pytest.approx(taken, rel=0.02)


@pytest.mark.parametrize(
    ("words", "said"),
    [(["--off-belly", "1 cm"], "up to 3 mm"), (["--off-width", "wide"], "--off-width")],
)
def test_sizes_that_are_no_shaving(case, capsys, words, said):
    assert main(["shave", case, *words]) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--step", "0.5 mm"], "--to-weight"),
        (["--readings", "r.csv"], "--to-weight"),
        (["--to-weight", "0 lbf"], "above zero"),
        (["--to-weight", "45 furlongs"], "--to-weight"),
        (["--to-weight", "400 lbf"], "only makes it weaker"),
        (["--to-weight", "40 lbf", "--step", "2 in"], "up to 3 mm"),
        (["--to-weight", "40 lbf", "--readings", "nowhere.csv"], "nowhere.csv"),
    ],
)
def test_where_to_take_wood_is_refused_with_a_remedy(case, capsys, words, said):
    assert main(["shave", case, *words]) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert told.out == ""


@pytest.mark.slow
def test_where_to_take_wood_in_json(case, capsys):
    assert main(["shave", case, "--to-weight", "45 lb", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["take"]
    assert found["target_lbf"] == pytest.approx(45.0)
    assert 1 <= len(found["lines"]) <= 5
    assert found["lines"][-1]["left"]["draw_weight_lbf"] > found["stop_at_lbf"] - 0.2
