"""A study of chances stopped at the terminal, and case files and journals that are spoilt."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time

import numpy as np
import pytest

from limbfe.cli import main

from .test_chance import coarse

READINGS = (
    "draw_length [mm],draw_force [N]\nbraced,\n300,60\n400,100\n500,130\n600,165\n"
)  # fmt: skip


@pytest.mark.slow
def test_ctrl_c_keeps_drawn_bows_and_the_next_run_goes_on(tmp_path):
    """Code 130, one line, no file half written; the same figures as a run in one go."""
    path, journal, out = coarse("ash_flatbow", tmp_path), tmp_path / "bows.jsonl", tmp_path / "out"
    words = ["chance", str(path), "--bows", "24", "--samples", "1000", "--workers", "1"]
    with subprocess.Popen(
        [sys.executable, "-m", "limbfe", *words, "--keep", str(journal), "--out", str(out)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        # a test run that was itself put in the background ignores Ctrl-C and hands that on
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    ) as run:  # fmt: skip
        end = time.monotonic() + 240.0
        while not journal.exists() or journal.read_bytes().count(b"\n") < 6:
            assert time.monotonic() < end, "waited too long"
            time.sleep(0.02)
        run.send_signal(signal.SIGINT)
        told, message = run.communicate(timeout=120)
    assert run.returncode == 130
    assert "Traceback" not in message
    assert told == ""
    assert not (out / "chance.json").exists()
    assert main([*words, "--keep", str(journal), "--out", str(out)]) == 0
    assert main([*words, "--out", str(tmp_path / "whole")]) == 0
    resumed, whole = (
        json.loads((at / "chance.json").read_text()) for at in (out, tmp_path / "whole")
    )
    assert resumed == whole


@pytest.mark.parametrize("seed", range(6))
def test_spoilt_readings_are_one_line(tmp_path, capsys, seed):
    """Bytes of a file of readings changed at random: one message and code 2, no traceback."""
    rng = np.random.default_rng(seed)
    data = bytearray(READINGS.encode())
    for _ in range(3):
        data[rng.integers(len(data))] = rng.integers(32, 127)
    # a heading that still reads is not what is looked for here
    data[0:4] = b"drqw"
    file = tmp_path / "readings.csv"
    file.write_bytes(bytes(data))
    path = coarse("ash_flatbow", tmp_path)
    assert main(["chance", str(path), "--readings", str(file)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert "Traceback" not in said.err


@pytest.mark.parametrize("text", ["{", '{"study": 3}\n', "not a journal\n", "[]\n" * 3])
def test_a_file_that_is_no_journal_is_not_written_over(tmp_path, capsys, text):
    journal, path = tmp_path / "kept.jsonl", coarse("ash_flatbow", tmp_path)
    journal.write_text(text, encoding="utf-8")
    assert main(["chance", str(path), "--bows", "24", "--keep", str(journal)]) == 2
    said = capsys.readouterr()
    assert str(journal) in said.err
    assert said.err.count("\n") == 1
    assert journal.read_text(encoding="utf-8") == text
