"""A study stopped at the terminal keeps what is finished and goes on from there."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from limbfe.studies.tasks.run import run_tasks

from .counting import ITEMS, NAMES, slow_square

SQUARES = {name: {"square": k * k} for k, name in enumerate(NAMES)}


def start(journal: Path, *words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.studies.tasks.counting", str(journal), *words],
        cwd=Path(__file__).parents[3],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        # A test run that was itself put in the background ignores Ctrl-C and hands that on.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )


def finish(study: subprocess.Popen[str]) -> tuple[str, str]:
    try:
        return study.communicate(timeout=30)
    finally:
        study.kill()


def wait_for(study: subprocess.Popen[str], count: int) -> None:
    while int(study.stdout.readline()) < count:
        pass


@pytest.mark.slow
@pytest.mark.parametrize("whole_group", [True, False])
def test_ctrl_c_keeps_what_is_finished(tmp_path, whole_group):
    """A terminal sends Ctrl-C to every process of the study; ``kill -INT`` only to the first."""
    journal = tmp_path / "squares.jsonl"
    study = start(journal)
    wait_for(study, 3)
    if whole_group:
        os.killpg(study.pid, signal.SIGINT)
    else:
        os.kill(study.pid, signal.SIGINT)
    _, said = finish(study)
    assert study.returncode == 130
    assert "Traceback" not in said
    kept = [json.loads(line) for line in journal.read_text().splitlines()[1:] if line]
    assert 3 <= len(kept) < len(ITEMS)
    assert all(entry["result"] == SQUARES[entry["name"]] for entry in kept)
    told: list[int] = []
    found = run_tasks(
        slow_square,
        ITEMS,
        study="squares",
        workers=2,
        journal=journal,
        tell=lambda done, total: told.append(done),
    )
    assert found == SQUARES
    assert told == list(range(len(kept), len(ITEMS) + 1))


@pytest.mark.slow
def test_a_killed_study_leaves_whole_results(tmp_path):
    journal = tmp_path / "squares.jsonl"
    study = start(journal)
    wait_for(study, 4)
    os.killpg(study.pid, signal.SIGKILL)
    finish(study)
    kept = [json.loads(line) for line in journal.read_text().splitlines()[1:] if line]
    assert len(kept) >= 4
    assert run_tasks(slow_square, ITEMS, study="squares", workers=1, journal=journal) == SQUARES


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="processes are counted by /proc")
def test_workers_end_with_a_study_that_was_killed(tmp_path):
    """In the middle of their work: the rest of it might take minutes, and no one waits for it."""
    study = start(tmp_path / "squares.jsonl", "long")
    wait_for(study, 2)
    assert len(of_session(study.pid)) > 2
    study.kill()
    until = time.monotonic() + 10.0
    while of_session(study.pid) and time.monotonic() < until:
        time.sleep(0.1)
    assert of_session(study.pid) == []
    finish(study)


def of_session(leader: int) -> list[int]:
    """Processes of a session that live."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            words = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(words[3]) == leader and words[0] != "Z":
            found.append(int(stat.parent.name))
    return found
