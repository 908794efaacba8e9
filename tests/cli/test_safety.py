"""What a user's Ctrl-C, two runs at once or a full disk may do to a folder of results: nothing."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from limbfe.cli import main
from limbfe.report.files import _made_aside
from limbfe.whole_file import part_name, whole_file

CASES = Path(__file__).parents[2] / "cases"
COARSE = "\n[analysis]\nelements_per_limb = 6\nfineness = 0.5\n"


@pytest.fixture
def case(tmp_path: Path) -> Path:
    """The ash bow with few elements, in a folder of its own."""
    path = tmp_path / "ash.toml"
    path.write_text((CASES / "ash_flatbow.toml").read_text() + COARSE)
    return path


def start(*words: object, env: dict[str, str] | None = None) -> subprocess.Popen[str]:
    return start_python(["-m", "limbfe", *map(str, words)], env)


def start_code(code: str) -> subprocess.Popen[str]:
    return start_python(["-c", code])


def start_python(words: list[str], env: dict[str, str] | None = None) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, *words],
        env=env,
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


def test_a_run_that_is_told_to_end_cleans_up(tmp_path: Path):
    """SIGTERM in the midst of writing: a shell's code for it, and no part of a file."""
    code = (
        "import os, signal, sys, limbfe.cli as cli\n"
        "from limbfe.whole_file import whole_file\n"
        "def run(_):\n"
        f"    with whole_file({str(tmp_path / 'a.json')!r}) as part:\n"
        "        os.kill(os.getpid(), signal.SIGTERM)\n"
        "cli._run = run\n"
        "sys.exit(cli.command())\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 143
    assert done.stderr == "limbfe: told to end; nothing was left half-written\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("number", "code"), [(signal.SIGTERM, 143), (signal.SIGINT, 130)])
def test_a_wish_to_end_is_heard_inside_a_destructor(number: int, code: int):
    """Python drops what is raised there, and where C code calls back, as while compiling."""
    code_of_run = (
        "import os, sys, time, limbfe.cli as cli\n"
        "class Dropped:\n"
        "    def __del__(self):\n"
        f"        os.kill(os.getpid(), {int(number)})\n"
        "        time.sleep(0.001)\n"
        "def run(_):\n"
        "    Dropped()\n"
        "    time.sleep(20)\n"
        "cli._run = run\n"
        "sys.exit(cli.command())\n"
    )
    begun = time.monotonic()
    with start_code(code_of_run) as run:
        _, message = run.communicate(timeout=60)
    assert run.returncode == code
    assert message in {
        "limbfe: told to end; nothing was left half-written\n",
        "limbfe: stopped; nothing was left half-written\n",
    }
    assert time.monotonic() - begun < 20.0


@pytest.mark.slow
@pytest.mark.parametrize("after", [0.2, 1.7])
def test_a_run_that_compiles_can_be_told_to_end(case: Path, tmp_path: Path, after: float):
    """Seconds after it has said that it compiles for the first time."""
    kept = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path / "kept")}
    with start("draw", case, env=kept) as run:
        said = run.stderr.readline()
        time.sleep(after)
        run.send_signal(signal.SIGTERM)
        _, message = run.communicate(timeout=600)
    assert said.startswith("Compiling the solver")
    assert message == "limbfe: told to end; nothing was left half-written\n"
    assert run.returncode == 143


def test_parts_of_dead_runs_are_removed_and_others_kept(tmp_path: Path):
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    own = part_name()
    left = tmp_path / own.replace(str(os.getpid()), str(dead.pid))
    left.mkdir()
    (left / "limb.vtu").write_text("half")
    kept = [tmp_path / f"{own}alive", tmp_path / ".part-elsewhere-1-x", tmp_path / ".part-mine"]
    for path in kept:
        path.write_text("")
    with whole_file(tmp_path / "a.json") as partial:
        partial.write_text("{}")
    assert sorted(tmp_path.iterdir()) == sorted([*kept, tmp_path / "a.json"])


def test_a_run_killed_among_its_moves_leaves_no_mixed_results(tmp_path: Path, monkeypatch):
    def write(words: str) -> None:
        with _made_aside(tmp_path) as aside:
            for name in ("limb.vtu", "report.html", "results.json"):
                (aside / name).write_text(words)

    write("first")
    move, moved = Path.replace, []

    def killed(path: Path, target: Path) -> Path:
        if moved:
            raise KeyboardInterrupt
        moved.append(target)
        return move(path, target)

    with monkeypatch.context() as patched:
        patched.setattr(Path, "replace", killed)
        with pytest.raises(KeyboardInterrupt):
            write("second")
    assert not (tmp_path / "results.json").exists()
    write("third")
    assert {path.read_text() for path in tmp_path.iterdir()} == {"third"}
    with _made_aside(tmp_path) as aside:
        (aside / "results.json").write_text("without pictures")
    assert not (tmp_path / "report.html").exists()


def test_two_runs_that_end_together_leave_the_files_of_one(tmp_path: Path, monkeypatch):
    def write(words: str) -> None:
        with _made_aside(tmp_path) as aside:
            for name in ("limb.vtu", "report.html", "results.json"):
                (aside / name).write_text(words)

    move, other = Path.replace, threading.Thread(target=write, args=("second",))

    def overtaken(path: Path, target: Path) -> Path:
        moved = move(path, target)
        if not other.ident:  # after the first file of the first run
            other.start()
            other.join(0.3)
        return moved

    monkeypatch.setattr(Path, "replace", overtaken)
    write("first")
    other.join()
    assert {path.read_text() for path in tmp_path.iterdir()} == {"second"}


@pytest.mark.slow
def test_two_runs_into_one_folder(case: Path, tmp_path: Path):
    assert main(["draw", str(case)]) == 0  # compiles here, once, where that is still to be done
    out, other = tmp_path / "out", tmp_path / "other.toml"
    other.write_text(case.read_text().replace('"28 in"', '"26 in"'))
    words = ("--out", out, "--no-pictures")
    with start("assess", case, *words) as one, start("assess", other, *words) as two:
        for run in (one, two):
            assert "Traceback" not in run.communicate(timeout=600)[1]
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


def test_too_little_memory_is_one_line(case: Path, capsys, monkeypatch):
    """What asks for more than the system gives may be anything that is computed."""

    def greedy(*_: object) -> None:
        raise MemoryError

    monkeypatch.setattr("limbfe.api.draw", greedy)
    assert main(["draw", str(case)]) == 2
    said = capsys.readouterr().err
    assert said.startswith("limbfe: takes more memory than there is")
    assert said.count("\n") == 1
