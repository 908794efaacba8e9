"""The command `size`, typed as a user types it."""

import json
import re
import subprocess
import sys
from fractions import Fraction

import pytest

from limbfe.cli import main

from .make import coarse_ash


def test_the_written_case_draws_what_was_asked_for(tmp_path, capsys):
    case, sized = coarse_ash(tmp_path), tmp_path / "sized.toml"
    words = ["size", str(case), "--draw-weight", "36 lbf", "--draw", "27 in", "--out", str(sized)]
    assert main([*words, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert main(["draw", str(sized), "--json"]) == 0
    drawn = json.loads(capsys.readouterr().out)["draw"]
    assert drawn["draw_length_mm"][-1] == pytest.approx(27 * 25.4)
    assert drawn["draw_weight_lbf"] == pytest.approx(36.0, rel=1e-3)
    assert drawn["draw_weight_N"] == pytest.approx(told["draw_weight_N"], rel=1e-6)
    # ten grains a pound, and its energy is some of what was put in (none gets out all)
    assert told["arrow_mass_g"] == pytest.approx(10 * 36.0 * 0.06479891, rel=2e-3)
    arrow = 0.5e-3 * told["arrow_mass_g"] * told["arrow_speed_m_per_s"] ** 2
    assert 0.4 * drawn["energy_J"][-1] < arrow < drawn["energy_J"][-1]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["ash.toml", "sized.toml"]


@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_what_is_off_leaves_what_is_to_be_reached(tmp_path, capsys, units):
    """Whole steps of the tool, the last one left: nobody is sent below the thickness wanted."""
    words = ["size", str(coarse_ash(tmp_path)), "--draw-weight", "36 lbf", "--units", units]
    assert main([*words, "--json"]) == 0
    wanted = json.loads(capsys.readouterr().out)["stations"]
    assert main(words) == 0
    step, unit = (25.4 / 64, 25.4) if units == "imperial" else (0.1, 1.0)
    shaved = 0
    for line in capsys.readouterr().out.splitlines():
        # two blanks or more stand between columns, one inside "1 3/4"
        cells = [cell for cell in re.split(r"\s{2,}", line.strip()) if cell]
        if not re.match(r"(upper|lower)\b", line.strip()) or "stiff" in line:
            continue
        station, _, now, reach, off = (_mixed(cell) for cell in cells[-8:][:5])
        shaved += off > 0.0
        assert now - off == pytest.approx(reach, abs=1e-9)
        limb = 1 if "upper" in line else -1
        found = min(wanted, key=lambda one: abs(one["station_mm"] - limb * station * unit))
        left = reach * unit - found["thickness_mm"]
        assert -0.51 * step < left < 1.51 * step
    assert shaved >= 6


def _mixed(cell):
    """Return the number of a cell, whole and fraction, whatever word stands before it."""
    parts = [part for part in cell.split() if part[0].isdigit()]
    return 0.0 if cell == "-" else float(sum(Fraction(part) for part in parts))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "--draw-weight"),
        (("--draw-weight", "45 g"), 'write "lbf"'),
        (("--draw-weight", "-45 lbf"), "above zero"),
        (("--draw-weight", "900 lbf"), "check the number and its unit"),
        (("--draw-weight", "36 lbf", "--tip", "9 mm"), "--even"),
        (("--draw-weight", "36 lbf", "--blank-allowance", "2 m"), "100 mm"),
        (("--draw-weight", "36 lbf", "--draw", "55 in"), "out of reach"),
        (("--draw-weight", "36 lbf", "--out", "sized.csv"), "ends in .toml"),
    ],
)
def test_bad_input_is_refused_in_one_line(tmp_path, capsys, words, said):
    assert main(["size", str(coarse_ash(tmp_path)), *words]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.count("\n") == 1
    assert said in captured.err


def test_help_names_every_way_of_sizing():
    done = subprocess.run(
        [sys.executable, "-m", "limbfe", "size", "--help"],
        capture_output=True,
        text=True,
        check=True,
    )
    for option in ("--scale", "--even", "--blank-allowance", "--out"):
        assert option in done.stdout
