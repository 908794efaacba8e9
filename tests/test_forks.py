"""Work shared out to copies of a process: order, refusals, memory, and nothing left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from limbfe.errors import ConvergenceError
from limbfe.forks import copies_at_once, share_out

HEAD = """
import os, signal, sys, time
from types import MappingProxyType
from limbfe.errors import ConvergenceError
from limbfe import forks
# a shell has what it runs in the background ignore Ctrl-C
signal.signal(signal.SIGINT, signal.default_int_handler)
if forks.copies_at_once() > 1:
    forks.copies_at_once = lambda: 3  # on a machine of two cores as well
else:
    print("alone"); sys.exit()
"""
only_linux = pytest.mark.skipif(
    not sys.platform.startswith("linux") or len(os.sched_getaffinity(0)) < 2,
    reason="processes are copied on Linux only, and for more than one core",
)


def run(code: str) -> str:
    """Run code in a process of one thread: the tests' own has more."""
    done = subprocess.run(
        [sys.executable, "-c", HEAD + code], capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout


def test_without_copies_each_is_done_here_in_turn():
    begun: list[int] = []
    got = share_out(lambda k: (k, len(begun)), [1.0, 1.0, 1.0], 2.0, begun.append)
    if copies_at_once() == 1:
        assert list(got) == [(0, 1), (1, 2), (2, 3)]
    else:
        assert [k for k, _ in got] == [0, 1, 2]


@only_linux
def test_results_come_in_order_whoever_ends_first():
    said = run("""
def work(k):
    time.sleep(0.2 if k == 0 else 0.0)
    return MappingProxyType({"number": k, "copy": os.getpid() != here})
here = os.getpid()
begun = []
got = list(forks.share_out(work, [1.0] * 5, 9.0, begun.append))
print([one["number"] for one in got], all(one["copy"] for one in got), begun)
""")
    assert said == "[0, 1, 2, 3, 4] True [0, 1, 2, 3, 4]\n"


@only_linux
def test_no_more_memory_is_taken_at_a_time_than_allowed():
    """At the most two of 0.4 fit into 1; what is larger than the limit works by itself."""
    said = run("""
def work(k):
    start = time.monotonic()
    time.sleep(0.15)
    return start, time.monotonic()
def most(needs):
    spans = list(forks.share_out(work, needs, 1.0))
    return max(sum(a <= start < b for a, b in spans) for start, _ in spans)
print(most([0.4] * 4), most([0.1] * 4), most([2.0, 0.1, 2.0]))
""")
    assert said == "2 3 1\n"


@only_linux
def test_an_error_is_raised_in_its_turn_with_all_it_says():
    said = run("""
def work(k):
    if k == 1:
        time.sleep(0.1)
        raise ConvergenceError("no equilibrium", draw_length=0.5, residuals=(1.0, 2.0))
    if k == 2:
        raise ValueError("later")
    return k
got = []
try:
    for one in forks.share_out(work, [1.0] * 3, 9.0):
        got.append(one)
except ConvergenceError as error:
    print(got, error, error.draw_length, error.residuals)
""")
    assert said == "[0] no equilibrium 0.5 (1.0, 2.0)\n"


@only_linux
def test_a_killed_copy_is_said_and_the_others_end():
    said = run("""
from limbfe.errors import LimbfeError
def work(k):
    if k == 0:
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(30.0)
begun = time.monotonic()
try:
    list(forks.share_out(work, [1.0] * 3, 9.0))
except LimbfeError as error:
    print("killed" in str(error), time.monotonic() - begun < 10.0)
try:
    os.waitpid(-1, os.WNOHANG)
except ChildProcessError:
    print("none left")
""")
    assert said == "True True\nnone left\n"


@only_linux
@pytest.mark.parametrize("ended_by", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_copies_end_with_their_process_and_clean_up_nothing_of_its(ended_by, tmp_path: Path):
    """The copies note themselves; whatever ends their parent, none is there a moment later, and
    what the parent does on its end is done once at most."""
    code = (
        HEAD
        + f"""
folder = {str(tmp_path)!r}
def work(k):
    open(f"{{folder}}/{{os.getpid()}}.copy", "w").close()
    time.sleep(60.0)
def end(number, frame):
    raise SystemExit(0)
signal.signal(signal.SIGTERM, end)
try:
    list(forks.share_out(work, [1.0] * 3, 9.0))
finally:
    open(f"{{folder}}/{{os.getpid()}}.cleaned", "w").close()
"""
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stderr=subprocess.DEVNULL, start_new_session=True
    ) as process:
        _until(lambda: len(list(tmp_path.glob("*.copy"))) == 3)
        copies = [int(path.stem) for path in tmp_path.glob("*.copy")]
        if ended_by == signal.SIGINT:
            os.killpg(process.pid, ended_by)  # Ctrl-C reaches all of them
        else:
            os.kill(process.pid, ended_by)
        process.wait(timeout=20)
    _until(lambda: not any(_runs(pid) for pid in copies))
    cleaned = [path.stem for path in tmp_path.glob("*.cleaned")]
    assert cleaned == ([] if ended_by == signal.SIGKILL else [str(process.pid)])


@only_linux
@pytest.mark.parametrize("copied", [0, 1, 2])
def test_what_cannot_be_copied_is_done_here(copied):
    """No more processes are to be had, as under a limit of the system, after so many."""
    said = run(f"""
fork, made, here = os.fork, [], os.getpid()
def limited():
    if len(made) == {copied}:
        raise BlockingIOError(11, "Resource temporarily unavailable")
    made.append(1)
    return fork()
os.fork = limited
begun = []
got = list(forks.share_out(lambda k: (k, os.getpid() != here), [1.0] * 4, 9.0, begun.append))
print([k for k, _ in got], sum(copy for _, copy in got), begun)
""")
    assert said == f"[0, 1, 2, 3] {copied} [0, 1, 2, 3]\n"


@only_linux
def test_a_copy_killed_while_it_answers_has_not_answered():
    said = run("""
from multiprocessing.connection import Connection
from limbfe.errors import LimbfeError
def cut_short(self, data):
    os.write(self.fileno(), b"\\0\\0\\1\\0abc")
    os.kill(os.getpid(), signal.SIGKILL)
def work(k):
    Connection._send_bytes = cut_short
try:
    print(list(forks.share_out(work, [1.0] * 2, 9.0)))
except LimbfeError as error:
    print("killed" in str(error))
""")
    assert said == "True\n"


@only_linux
def test_a_copy_that_ends_without_an_answer_has_found_nothing():
    said = run("""
def work(k):
    raise SystemExit(0)
try:
    print(list(forks.share_out(work, [1.0] * 2, 9.0)))
except RuntimeError as error:
    print(error)
""")
    assert said == "what a copy of this process found could not be handed on\n"


@only_linux
def test_answers_count_where_nobody_is_told_how_processes_end():
    """As under a program that ignores the ends of its children, which is handed down."""
    said = run("""
signal.signal(signal.SIGCHLD, signal.SIG_IGN)
print(list(forks.share_out(lambda k: k, [1.0] * 4, 9.0)))
""")
    assert said == "[0, 1, 2, 3]\n"


@only_linux
def test_ctrl_c_just_as_a_copy_begins_leaves_none_behind():
    said = run("""
fork, here = os.fork, os.getpid()
def struck():
    pid = fork()
    if os.getpid() == here:
        os.kill(here, signal.SIGINT)
    return pid
os.fork = struck
try:
    list(forks.share_out(lambda k: time.sleep(60.0), [1.0] * 2, 9.0))
except KeyboardInterrupt:
    print("stopped")
try:
    print(os.waitpid(-1, os.WNOHANG))
except ChildProcessError:
    print("none left")
""")
    assert said == "stopped\nnone left\n"


@only_linux
def test_who_watches_on_a_terminal_has_all_cores_as_well():
    import pty

    ours, theirs = pty.openpty()
    code = """
import argparse, os
from limbfe import forks
from limbfe.cli.common import progress
with progress(argparse.Namespace(json=False, units=None)) as say:
    say("drawing")
    say.found("knot A")
    say.found(f"several: {forks.copies_at_once() > 1}")
"""
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "TERM": "xterm"}
    subprocess.run([sys.executable, "-c", code], stderr=theirs, env=environment, check=True)
    os.close(theirs)
    shown = os.read(ours, 10_000).decode()
    os.close(ours)
    for words in ("drawing", "knot A", "several: True"):
        assert words in shown


def _runs(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


def _until(true) -> None:
    for _ in range(200):
        if true():
            return
        time.sleep(0.05)
    raise AssertionError("not within 10 s")


@only_linux
def test_a_process_of_several_threads_is_not_copied():
    said = run("""
import threading, importlib
from limbfe import forks
importlib.reload(forks)
before = forks.copies_at_once()
stop = threading.Event()
other = threading.Thread(target=stop.wait)
other.start()
print(before > 1, forks.copies_at_once())
stop.set()
""")
    assert said == "True 1\n"


def test_errors_travel_whole():
    import pickle

    sent = ConvergenceError("words", draw_length=0.4, iteration=7, residuals=(3.0,))
    back = pickle.loads(pickle.dumps(sent))
    assert (str(back), back.draw_length, back.iteration, back.residuals) == (
        "words", 0.4, 7, (3.0,),
    )  # fmt: skip
