"""A bow whose wood is hardly worked at all still has a place where it is worked hardest.

Found by a case with E_L a hundredth of what was meant, which is refused at reading now: with no
place above a fiftieth of the strength, the list of hot spots was empty and the tables ended in an
IndexError.
"""

import re
from pathlib import Path

from limbfe.cli import main

ASH = Path(__file__).parents[2] / "cases" / "ash_flatbow.toml"


def test_soft_wood_drawn_a_little_is_assessed(tmp_path, capsys):
    soft = ASH.read_text(encoding="utf-8")
    for key, value in (("E_L", "0.3 GPa"), ("brace_height", "60 mm"), ("length", "200 mm")):
        soft = re.sub(rf'(?m)^{key}( *)= "[^"]*"', rf'{key}\1= "{value}"', soft)
    soft += "\n[analysis]\nelements_per_limb = 4\nfineness = 0.5\n"
    case = tmp_path / "soft.toml"
    case.write_text(soft, encoding="utf-8")
    assert main(["assess", str(case)]) == 0
    printed = capsys.readouterr().out
    assert "at most 1% of its strength" in printed
    assert "belly" in printed[printed.index("worked hardest") :]
