"""Computations in processes of their own, which can be cancelled and may not run on for ever."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

from limbfe.children import IsolatedContext
from limbfe.errors import LimbfeError
from limbfe.page.computing import child

LOOK = 0.1
"""Seconds between two looks at the clock while a child computes."""
PATIENCE = 2.0
"""Seconds a child has to end when it is told to, before it is killed."""

Target = Callable[[Connection], None]
Tell = Callable[[str], None]


def _never() -> bool:
    return False


def _unseen(first: Any) -> None:
    return None


class CancelledError(LimbfeError):
    """The computation was stopped by who asked for it."""


class ComputationError(LimbfeError):
    """The computation has no result: says why in words for the user."""


@dataclass(slots=True)
class Worker:
    """One child process, started when it is first needed and kept for the next job.

    Attributes
    ----------
    seconds : float
        How long one job may take.
    target : callable
        What the child runs; see `limbfe.page.computing.child.serve`.
    """

    seconds: float
    target: Target = child.serve
    _process: BaseProcess | None = None
    _pipe: Connection | None = None
    _one: threading.Lock = field(default_factory=threading.Lock)
    _starting: threading.Lock = field(default_factory=threading.Lock)
    _cancelled: bool = False
    _closed: bool = False

    def start(self) -> None:
        """Start the child if there is none; it loads its libraries while nobody waits."""
        with self._starting:
            if self._closed or (self._process is not None and self._process.is_alive()):
                return
            self._close()
            context = IsolatedContext()
            ours, theirs = context.Pipe()
            process = context.Process(target=self.target, args=(theirs,), daemon=True)
            process.start()
            theirs.close()
            self._process, self._pipe = process, ours

    def run(
        self,
        kind: str,
        job: dict[str, Any],
        tell: Tell,
        superseded: Callable[[], bool] = _never,
        show: Callable[[Any], None] = _unseen,
    ) -> Any:
        """Do one job and return its result; one at a time.

        Parameters
        ----------
        kind : str
        job : dict
            As `limbfe.page.computing.child` takes them.
        tell : callable
            Told in words what is being done.
        superseded : callable, optional
            Asked when it is this job's turn whether it is still wanted.
        show : callable, optional
            Given the first look, where there is one.

        Raises
        ------
        CancelledError
            If `cancel` or `close` was called meanwhile, or the job is not wanted any more.
        ComputationError
            If the case cannot be solved, the child died, or it took too long.
        """
        with self._one:
            if superseded():
                raise CancelledError("not wanted any more")
            self._cancelled = False
            self.start()
            pipe = self._pipe
            if self._closed or pipe is None:
                raise CancelledError("the page is closed")
            end = time.monotonic() + self.seconds
            try:
                pipe.send((kind, job))
                while True:
                    if pipe.poll(LOOK):
                        sort, what = pipe.recv()
                        if sort == "stage":
                            tell(str(what))
                        elif sort == "seen":
                            show(what)
                        elif sort == "done":
                            return what
                        elif sort == "failed":
                            raise ComputationError(str(what))
                    elif time.monotonic() > end:
                        raise ComputationError(
                            f"took longer than {self.seconds / 60.0:g} minutes and was stopped; "
                            "give fewer steps or a smaller fineness in [analysis]"
                        )
            except (EOFError, OSError):
                self.stop()  # a child that is only just dying would be taken for one that waits
                if self._cancelled or self._closed:
                    raise CancelledError("stopped") from None
                raise ComputationError(
                    "the computation ended before it was done, most likely for want of memory; "
                    "nothing you entered is lost: try again, with fewer steps or elements"
                ) from None
            finally:
                if self._cancelled or time.monotonic() > end:
                    self.stop()

    def cancel(self) -> None:
        """Stop the job that is running; the next one gets a new child."""
        self._cancelled = True
        self.stop()

    def close(self) -> None:
        """Stop the job that is running; nothing is begun any more."""
        self._closed = True
        self.cancel()

    def stop(self) -> None:
        """End the child."""
        with self._starting:
            self._close()

    def _close(self) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.terminate()
            process.join(PATIENCE)
            if process.is_alive():
                process.kill()
                process.join(PATIENCE)
        # the pipe is left to whoever waits at it: the child's end is closed, so reading ends
        self._pipe = None
