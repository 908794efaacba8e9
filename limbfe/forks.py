"""Copies of this process that share its work and end with it.

A copy has everything this process has loaded and computed, at no cost: a new interpreter would load
and read it all again, a second of it.  Processes of many threads must not be copied (a thread that
holds a lock is not there to give it up), and other systems than Linux do not promise that their
libraries bear it; what is shared out is then done here, one after the other.
"""

from __future__ import annotations

import ctypes
import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

from limbfe.errors import LimbfeError
from limbfe.read_only import hand_on_read_only

if TYPE_CHECKING:
    from multiprocessing.process import BaseProcess

Result = TypeVar("Result")

_Busy: TypeAlias = "dict[Any, tuple[int, BaseProcess]]"
"""Which part every copy at work does, by the end of the pipe that it answers through."""

_DIE_WITH_PARENT = 1
"""Of Linux's `prctl`: the signal that a process gets when its parent has ended."""


def copies_at_once() -> int:
    """Return how many copies of this process may work at a time; 1 where it cannot be copied.

    A process that was itself started to share work leaves the cores to its siblings.
    """
    if not sys.platform.startswith("linux"):
        return 1
    # loaded by whatever started a process of `multiprocessing`; it takes a while to load
    process = sys.modules.get("multiprocessing.process")
    if process is not None and process.parent_process() is not None:
        return 1
    try:
        threads = len(os.listdir("/proc/self/task"))
    except OSError:
        return 1
    return len(os.sched_getaffinity(0)) if threads == 1 else 1


def share_out(
    work: Callable[[int], Result],
    needs: Sequence[float],
    limit: float,
    begin: Callable[[int], None] = lambda k: None,
) -> Iterator[Result]:
    """Yield ``work(0)``, ``work(1)`` and so on, several at work where the system allows it.

    Parameters
    ----------
    work : callable
        From a number to what can be pickled.
    needs : sequence of float
        Memory (bytes) that each of them takes beyond what this process holds.
    limit : float
        Memory that those at work together may take; one of them always may work.
    begin : callable, optional
        Told which of them is begun.

    Raises
    ------
    Exception
        What `work` raises, in its turn.
    LimbfeError
        If a copy was killed, for instance for want of memory.
    """
    most = min(copies_at_once(), len(needs))
    if most < 2:
        for k in range(len(needs)):
            begin(k)
            yield work(k)
        return
    yield from _forked(work, needs, limit, most, begin)


def _forked(
    work: Callable[[int], Result],
    needs: Sequence[float],
    limit: float,
    most: int,
    begin: Callable[[int], None],
) -> Iterator[Result]:
    from multiprocessing.connection import wait

    hand_on_read_only()
    waiting = list(range(len(needs)))
    busy: _Busy = {}
    done: dict[int, tuple[Any, Exception | None]] = {}
    try:
        for k in range(len(needs)):
            while k not in done:
                while waiting and len(busy) < most and _fits(waiting[0], busy, needs, limit):
                    try:
                        _start(work, waiting[0], busy)
                    except OSError:  # no more processes, files or memory are to be had
                        most = len(busy)
                        break
                    begin(waiting.pop(0))
                if not busy:
                    begin(waiting.pop(0))
                    done[k] = work(k), None
                    break
                for ended in wait(list(busy)):
                    number, process = busy[ended]
                    done[number] = _received(ended, process)
                    del busy[ended]
            result, error = done.pop(k)
            if error is not None:
                raise error
            yield result
    finally:
        for left, (_, process) in busy.items():
            process.kill()
            process.join()
            left.close()


def _start(work: Callable[[int], Any], k: int, busy: _Busy) -> None:
    """Start a copy and note it among the busy ones."""
    from multiprocessing import get_context

    context = get_context("fork")
    here, there = context.Pipe(duplex=False)
    # one that is not waited for, as its result is no longer asked for, ends with this process
    process = context.Process(target=_work, args=(work, k, there, os.getpid()), daemon=True)
    try:
        with _signals_held():
            process.start()
            busy[here] = k, process
    except OSError:
        here.close()
        raise
    finally:
        there.close()


def _fits(k: int, busy: _Busy, needs: Sequence[float], limit: float) -> bool:
    taken = sum(needs[other] for other, _ in busy.values())
    return not busy or taken + needs[k] <= limit


def _received(here: Any, process: BaseProcess) -> tuple[Any, Exception | None]:
    """Return what a copy found or raised."""
    try:
        said: tuple[Any, Exception | None] = here.recv()
    except (EOFError, OSError):  # nothing came, or a part of it
        process.join()
        # None where nobody is told how processes end (SIGCHLD is ignored)
        if process.exitcode is None or process.exitcode < 0:
            return None, LimbfeError(
                "a process at work on a part of it was killed, perhaps for want of memory; "
                "close other programs and run it again"
            )
        return None, RuntimeError("what a copy of this process found could not be handed on")
    finally:
        here.close()
    process.join()
    return said


@contextmanager
def _signals_held() -> Iterator[None]:
    """Let no signal in while a copy begins: it would run what this process does on its end."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, ())
    try:
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _work(work: Callable[[int], Any], k: int, out: Any, parent: int) -> None:
    """Do one part in a copy; the process that shares it out ends it at Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT, signal.SIGTERM})
    ctypes.CDLL(None).prctl(_DIE_WITH_PARENT, signal.SIGKILL)
    if os.getppid() != parent:
        return
    try:
        said: tuple[Any, Exception | None] = work(k), None
    except Exception as error:  # handed on, to be raised where it was asked for
        said = None, error
    out.send(said)
    out.close()
