"""Tips bent to the back, and strings tied where none can be."""

from __future__ import annotations

from pathlib import Path

import pytest

from limbfe.api import read_case
from limbfe.errors import CaseError

RECURVE = (Path(__file__).parents[2] / "cases" / "ash_recurve.toml").read_text()
LAST = "4.6, 18.2, 40.1, 69.4]"


def read(folder: Path, text: str) -> None:
    path = folder / "bow.toml"
    path.write_text(text)
    read_case(path)


@pytest.mark.parametrize(
    ("reflex", "fits"),
    [
        (LAST, True),
        ("6.4, 25.2, 54.8, 93.2]", True),  # an arc of 63 degrees
        ("7.4, 29.2, 63.9, 108.9]", False),  # chords as long as the limb
        ("4.6, 18.2, 40.1, 89]", False),
    ],
)
def test_a_tip_may_be_bent_by_eighty_degrees(tmp_path: Path, reflex: str, fits: bool):
    text = RECURVE.replace(LAST, reflex)
    if fits:
        read(tmp_path, text)
        return
    with pytest.raises(CaseError, match=r"\[limb.both\] reflex, value 12"):
        read(tmp_path, text)


def test_a_string_tied_behind_the_back_is_refused(tmp_path: Path):
    with pytest.raises(CaseError, match="the string would cross the limb from the back"):
        read(tmp_path, RECURVE.replace('nock_offset = "-5.5 mm"', 'nock_offset = "6 mm"'))
