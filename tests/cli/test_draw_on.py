"""``limbfe draw --to``, in this process and with few elements."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from limbfe.cli import main

ASH = Path(__file__).parents[2] / "cases" / "ash_flatbow.toml"


@pytest.fixture(scope="module")
def case(tmp_path_factory) -> str:
    path = tmp_path_factory.mktemp("draw_on") / "ash.toml"
    coarse = "\n[analysis]\nelements_per_limb = 5\nfineness = 0.5\n"
    path.write_text(ASH.read_text().replace("steps = 30", "steps = 8") + coarse)
    return str(path)


def test_on_until_it_breaks(case, capsys):
    assert main(["draw", case, "--to", "--json"]) == 0
    said = capsys.readouterr()
    limits = json.loads(said.out)["limits"]
    kinds = {limit["kind"] for limit in limits["failures"]}
    assert "compression" in kinds
    assert kinds & {"tension", "crush"}, "the belly crushes through or the back breaks"
    lengths = [limit["draw_length_mm"] for limit in limits["failures"]]
    assert lengths == sorted(lengths)
    assert limits["end"]["reason"] == "break"
    assert limits["end"]["draw_length_mm"] in lengths
    assert limits["belly_yields"]["face"] == "belly"


def test_in_tables(case, capsys):
    assert main(["draw", case, "--to", "--units", "imperial"]) == 0
    said = capsys.readouterr().out
    assert "wrinkles (frets)" in said
    assert "knots and decay are not looked at" in " ".join(said.split())


def test_to_a_length(case, capsys):
    assert main(["draw", case, "--to", "30 in", "--json"]) == 0
    drawn = json.loads(capsys.readouterr().out)
    assert drawn["draw"]["draw_length_mm"][-1] == pytest.approx(762.0)
    assert "limits" not in drawn
    assert any("keep a set of" in line for line in drawn["cautions"])
    # two inches further than it is made for, the ash is overworked; as made it is not
    assert main(["draw", case, "--json"]) == 0
    less = json.loads(capsys.readouterr().out)
    assert not any("keep a set of" in line for line in less["cautions"])
    assert drawn["set_mm"]["upper"] > 1.3 * less["set_mm"]["upper"]
    assert drawn["draw"]["draw_weight_N"] > less["draw"]["draw_weight_N"]


@pytest.mark.parametrize(
    ("length", "code", "words"),
    [
        ("5 in", 2, "already stands 183 mm (7.22 in)"),
        ("5 inn", 2, 'did you mean "in"'),
        ("3 m", 2, "must lie between 100 mm (3.94 in) and 1500 mm (59.1 in)"),
    ],
)
def test_lengths_that_cannot_be_drawn(case, capsys, length, code, words):
    assert main(["draw", case, "--to", length]) == code
    said = capsys.readouterr()
    assert words in said.err
    assert said.out == ""
