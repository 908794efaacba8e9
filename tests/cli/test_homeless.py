"""A user without a home, as of a service or a container: every command runs, or says why not."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from limbfe.errors import LimbfeError
from limbfe.page.room import open_room
from tests.coarse import coarse

ASH = "ash_flatbow.toml"
COMMANDS = [
    ["woods", "European ash"],
    ["sample"],
    ["draw", ASH, "--json"],
    ["sweep", ASH, "--moisture", "9:10:1", "--workers", "2"],
    ["section", ASH, "--at", "310 mm", "--png", "section.png"],
]


STEERED = ("HOME", "USERPROFILE", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "MPLCONFIGDIR", "TMPDIR")


def run(words: list[str], folder: Path, steered: dict[str, str]) -> str:
    kept = {name: value for name, value in os.environ.items() if name not in STEERED}
    done = subprocess.run(
        [sys.executable, "-m", "limbfe", *words], env=kept | steered, cwd=folder,
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, (words, done.stderr)
    assert "Traceback" not in done.stderr
    return done.stdout


def test_commands_run_where_no_folder_of_the_user_can_be_written_to(tmp_path):
    """All lie below a file, where root cannot write either."""
    (tmp_path / "file").write_text("")
    coarse(tmp_path)
    nowhere = dict.fromkeys(STEERED, str(tmp_path / "file" / "none"))
    for words in COMMANDS:
        assert run(words, tmp_path, nowhere), words
    assert (tmp_path / "section.png").stat().st_size > 1000


def test_a_draw_needs_no_home(tmp_path):
    coarse(tmp_path)
    assert '"case"' in run(["draw", ASH, "--json"], tmp_path, {})


def test_the_page_asks_for_a_folder(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "file" / "none"))
    with pytest.raises(LimbfeError, match="TMPDIR"), open_room(tmp_path, None):
        pass
