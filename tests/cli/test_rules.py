"""Command ``rules`` as it is typed."""

import json

import pytest

from limbfe.cli import main
from limbfe.studies.rules import RULES


def test_the_list_names_every_rule(capsys):
    assert main(["rules", "--list", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)["rules"]
    assert [rule["name"] for rule in listed] == list(RULES)
    assert main(["rules", "--list"]) == 0
    assert "knot_width" in capsys.readouterr().out


def test_one_rule_on_one_bow_is_marked_a_first_look_and_goes_on(tmp_path, capsys):
    words = ["rules", "last_inch", "--bows", "1", "--workers", "1", "--out", str(tmp_path)]
    assert main(words) == 0
    assert "first look" in capsys.readouterr().out.lower()
    assert {path.name for path in tmp_path.iterdir()} == {
        "rules.json",
        "rules.md",
        "rules.jsonl",
        "last_inch.png",
    }
    assert main([*words, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found == json.loads((tmp_path / "rules.json").read_text(encoding="utf-8"))
    assert found["first_look"]
    (rule,) = found["rules"]
    assert rule["label"] == "common practice"
    assert rule["verdict"] in {"holds", "holds within", "fails beyond", "fails"}
    assert 0.01 < rule["median"][1] < 0.1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["widht"], 'did you mean "width"?'),
        (["--bows", "0"], "--bows 0: must be at least 1"),
        (["--quick", "--bows", "3"], "give one of them"),
        (["--workers", "-1"], "--workers -1: must be at least 1"),
    ],
)
def test_bad_words_are_refused_in_one_line(words, said, capsys):
    assert main(["rules", *words]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1
