"""What would not go into the memory of a laptop is refused before it begins."""

from pathlib import Path

import pytest

from limbfe.case.load import read_case
from limbfe.errors import CaseError

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
    """By hand: (2 - 0.28) GB over 0.3 MB times 100 elements times 1.5 squared is 25 steps."""
    said = refusal(tmp_path / "a.toml", ELM.read_text(encoding="utf-8") + FINE)
    assert "[draw] steps = 30" in said
    assert "takes some 2.3 GB of memory; at most 25 steps" in said
    allowed = ELM.read_text(encoding="utf-8").replace("steps = 30", "steps = 25") + FINE
    (tmp_path / "b.toml").write_text(allowed, encoding="utf-8")
    assert read_case(tmp_path / "b.toml").file.draw.steps == 25


def test_more_zones_than_anybody_measures(tmp_path):
    spots = "".join(SPOT.format(k, 120 + 8 * k) for k in range(80))
    said = refusal(tmp_path / "a.toml", ELM.read_text(encoding="utf-8") + spots)
    assert "is one of 81; a bow may have 60" in said
