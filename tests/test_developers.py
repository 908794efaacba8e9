"""DEVELOPERS.md tells the truth about where things are."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
NOT_YET = {"beam/string/touching.py"}
"""Files that an extension would add."""


def test_every_file_and_folder_named_is_there():
    named = set(re.findall(r"`([a-z_]+(?:/[a-z_0-9]+)*/(?:[a-z_0-9]+\.[a-z]+)?)[:`]", TEXT))
    assert len(named) > 50
    gone = {
        one for one in named - NOT_YET
        if not any((ROOT / start / one).exists() for start in (".", "limbfe", "limbfe/studies"))
    }  # fmt: skip
    assert gone == set()
    assert not any((ROOT / "limbfe" / one).exists() for one in NOT_YET)


def test_every_room_is_in_the_table():
    rooms = {
        path.parent.relative_to(ROOT / "limbfe").as_posix() + "/"
        for path in (ROOT / "limbfe").glob("*/*/__init__.py")
    }
    assert {room for room in rooms if f"`{room}`" not in TEXT} == set()
