"""Computations end when they are told to, take too long, or die; the next one runs all the same."""

from __future__ import annotations

import os
import threading
import time

import pytest

from limbfe.page.computing.workers import CancelledError, ComputationError, Worker


def obey(pipe):
    """A child that does as it is told; the real one takes seconds to load."""
    pipe.send(("ready", None))
    while True:
        kind, job = pipe.recv()
        if kind == "die":
            os._exit(9)
        if kind == "sleep":
            time.sleep(job["seconds"])
        if kind == "fail":
            pipe.send(("failed", "the string breaks"))
        else:
            pipe.send(("stage", "half"))
            pipe.send(("done", {"id": os.getpid()}))


@pytest.fixture(scope="module")
def worker():
    made = Worker(seconds=30.0, target=obey)
    yield made
    made.cancel()


def test_a_child_stays_for_the_next_job_and_a_dead_one_is_replaced(worker):
    stages = []
    first = worker.run("work", {}, stages.append)
    assert worker.run("work", {}, stages.append) == first
    assert stages == ["half", "half"]
    with pytest.raises(ComputationError, match="string breaks"):
        worker.run("fail", {}, stages.append)
    with pytest.raises(ComputationError, match="nothing you entered is lost"):
        worker.run("die", {}, stages.append)
    second = worker.run("work", {}, stages.append)
    assert second != first
    # cancelled from another thread while it computes
    threading.Timer(0.3, worker.cancel).start()
    begun = time.monotonic()
    with pytest.raises(CancelledError):
        worker.run("sleep", {"seconds": 60}, stages.append)
    assert time.monotonic() - begun < 20
    assert worker.run("work", {}, stages.append) != second
    with pytest.raises(CancelledError):
        worker.run("work", {}, stages.append, lambda: True)


def test_a_job_that_takes_too_long_is_stopped(worker):
    worker.run("work", {}, lambda words: None)
    worker.seconds = 0.2
    with pytest.raises(ComputationError, match="took longer"):
        worker.run("sleep", {"seconds": 60}, lambda words: None)
    worker.seconds = 30.0
    assert worker.run("work", {}, lambda words: None)


def test_a_closed_worker_ends_its_job_at_once_and_begins_no_other():
    """As Ctrl-C finds it: one job runs, another waits for its turn."""
    worker = Worker(seconds=60.0, target=obey)
    ended = []

    def work(kind):
        with pytest.raises(CancelledError):
            worker.run(kind, {"seconds": 60}, lambda words: None)
        ended.append(kind)

    threads = [threading.Thread(target=work, args=(kind,)) for kind in ("sleep", "work")]
    for thread in threads:
        thread.start()
        time.sleep(0.3)
    worker.close()
    for thread in threads:
        thread.join(20)
    assert sorted(ended) == ["sleep", "work"]
    assert worker._process is None
