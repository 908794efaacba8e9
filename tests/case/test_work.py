"""What would not go into the memory of a laptop is refused before it begins."""

import json
import re
from pathlib import Path

import pytest

import limbfe
from limbfe.analysis.shot.shot import most_shots
from limbfe.case.load import read_case
from limbfe.case.schema import CaseFile
from limbfe.cli import main
from limbfe.errors import CaseError
from limbfe.memory import allow_large

ELM = Path(__file__).parents[2] / "cases" / "elm_longbow.toml"
FINE = "\n[analysis]\nelements_per_limb = 100\nfineness = 1.5\n"
SPOT = """
[[decay]]
name = "s{0}"
limb = "upper"
at = "{1} mm"
face = "back"
across = "0 mm"
length = "4 mm"
width = "2 mm"
depth = "1 mm"
stage = "incipient"
rot = "white"
"""


def refusal(path: Path, text: str) -> str:
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        read_case(path)
    return str(caught.value)


def test_more_steps_than_memory(tmp_path):
    """By hand: (1 - 0.28) GB over 0.3 MB times 100 elements times 1.5 squared is 10 steps."""
    said = refusal(tmp_path / "a.toml", ELM.read_text(encoding="utf-8") + FINE)
    assert "[draw] steps = 30" in said
    assert "takes some 2.3 GB of memory; at most 10 steps" in said
    allowed = ELM.read_text(encoding="utf-8").replace("steps = 30", "steps = 10") + FINE
    (tmp_path / "b.toml").write_text(allowed, encoding="utf-8")
    assert read_case(tmp_path / "b.toml").file.draw.steps == 10


def test_more_zones_than_anybody_measures(tmp_path):
    spots = "".join(SPOT.format(k, 120 + 8 * k) for k in range(80))
    said = refusal(tmp_path / "a.toml", ELM.read_text(encoding="utf-8") + spots)
    assert "is one of 81; a bow may have 60" in said


def test_who_types_it_may_have_it(tmp_path):
    """Not the file: it may have come from anybody."""
    path = tmp_path / "a.toml"
    path.write_text(ELM.read_text(encoding="utf-8") + FINE, encoding="utf-8")
    with allow_large():
        assert read_case(path).file.draw.steps == 30
    assert "--allow-large" in refusal(path, path.read_text(encoding="utf-8"))
    assert "allow_large" not in json.dumps(CaseFile.model_json_schema())


def test_the_command_line_passes_it_on(tmp_path, capsys):
    path = tmp_path / "a.toml"
    path.write_text(ELM.read_text(encoding="utf-8") + FINE, encoding="utf-8")
    section = ["section", str(path), "--at", "200 mm", "--json"]
    assert main(section) == 2
    assert "--allow-large" in capsys.readouterr().err
    assert main([*section, "--allow-large"]) == 0
    assert main(section) == 2


def test_arrows_whose_shots_no_gigabyte_holds_are_refused(capsys):
    """More of them go with fewer elements; all of them where large ones are allowed."""
    bow = str(ELM.with_name("ash_flatbow.toml"))
    assert main(["shoot", bow, "--arrow", "300:799:5 gr"]) == 2
    said = capsys.readouterr().err
    assert "300:799:5 gr" in said
    assert "--allow-large" in said
    most = int(re.search(r"at most (\d+)", said)[1])
    assert most == most_shots(12) < most_shots(5)
    # a shot of 12 elements a limb was measured with 12.3 MB, bow and libraries with 0.26 GB
    assert 0.26e9 + 12.3e6 * most < 1e9 < 0.3e9 + 14e6 * (most + 2)
    with pytest.raises(CaseError, match="at most"):
        limbfe.shoot(bow, [0.03] * (most + 1))
