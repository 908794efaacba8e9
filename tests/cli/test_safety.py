"""What a user's Ctrl-C, two runs at once or a full disk may do to a folder of results: nothing."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from limbfe.analysis.store import whole_file
from limbfe.cli import main

CASES = Path(__file__).parents[2] / "cases"
COARSE = "\n[analysis]\nelements_per_limb = 6\nfineness = 0.5\n"


@pytest.fixture
def case(tmp_path: Path) -> Path:
    """The ash bow with few elements, in a folder of its own."""
    path = tmp_path / "ash.toml"
    path.write_text((CASES / "ash_flatbow.toml").read_text() + COARSE)
    return path


def start(*words: object) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "limbfe", *map(str, words)]
    return subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # A test run that was itself put in the background ignores Ctrl-C and hands that on.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )


def wait_for(happened, limit: float = 240.0) -> None:
    end = time.monotonic() + limit
    while not happened():
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.01)


@pytest.mark.slow
@pytest.mark.parametrize("stage", ["computing", "writing"])
def test_a_stopped_assess_leaves_nothing(case: Path, tmp_path: Path, stage: str):
    out = tmp_path / "out"
    with start("assess", case, "--out", out) as run:
        wait_for(out.is_dir if stage == "computing" else lambda: list(out.glob(".part-*/*")))
        run.send_signal(signal.SIGINT)
        _, message = run.communicate(timeout=60)
    assert run.returncode == 130, message
    assert "Traceback" not in message
    assert list(out.iterdir()) == []


@pytest.mark.slow
def test_two_runs_into_one_folder(case: Path, tmp_path: Path):
    out, other = tmp_path / "out", tmp_path / "other.toml"
    other.write_text(case.read_text().replace('"28 in"', '"26 in"'))
    words = ("--out", out, "--no-pictures")
    with start("assess", case, *words) as one, start("assess", other, *words) as two:
        for run in (one, two):
            assert "Traceback" not in run.communicate(timeout=120)[1]
            assert run.returncode == 0
    assert not list(out.glob(".part-*"))
    results = json.loads((out / "results.json").read_text())
    assert round(results["draw"]["draw_length_mm"][-1], 6) in {711.2, 660.4}
    lines = (out / "limb.vtu").read_text().rstrip()
    assert lines.endswith("</VTKFile>")


def test_what_is_no_ordinary_file_is_never_replaced(case: Path, tmp_path: Path, capsys):
    pipe, folder = tmp_path / "pipe.png", tmp_path / "out" / "results.json"
    os.mkfifo(pipe)
    folder.mkdir(parents=True)
    (tmp_path / "link.png").symlink_to(pipe)
    (tmp_path / "good.png").symlink_to(tmp_path / "picture.png")
    for words, said in {
        ("shave", case, "--png", pipe): "is no ordinary file and cannot be replaced",
        ("shave", case, "--png", tmp_path / "link.png"): "is no ordinary file",
        ("assess", case, "--out", tmp_path / "out", "--no-pictures"): "results.json: is a folder",
        ("assess", case, "--out", pipe): "cannot write there",
        ("assess", case, "--out", ""): "--out: is empty",
    }.items():
        assert main([str(word) for word in words]) == 2
        assert said in capsys.readouterr().err
    assert pipe.is_fifo()
    assert list(folder.parent.iterdir()) == [folder]
    with whole_file(tmp_path / "good.png") as partial:
        partial.write_text("a picture")
    assert (tmp_path / "picture.png").read_text() == "a picture", "a link is followed"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_one_line(case: Path):
    with Path("/dev/full").open("w") as full:
        command = [sys.executable, "-m", "limbfe", "woods"]
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr == "limbfe: No space left on device\n"
