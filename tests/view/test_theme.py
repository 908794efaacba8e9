"""How a picture is written."""

from __future__ import annotations

from pathlib import Path

from limbfe.view.theme import new_figure, save_figure


def test_a_name_without_an_ending_is_a_whole_picture(tmp_path: Path) -> None:
    path = save_figure(new_figure(2.0, 1.0), tmp_path / "bow")
    assert path.read_bytes().startswith(b"\x89PNG")
    assert list(tmp_path.iterdir()) == [path], "nothing but the file is left"
