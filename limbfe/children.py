"""Child processes that run no file just because it lies in the folder they are started in.

``python -c``, by which a rendering probe and `multiprocessing` start their children, looks for
modules in the current folder before it looks anywhere else, and PYTHON variables of the environment
can send it there too.  A folder of cases that somebody sent may hold a ``struct.py``.

Nor do they outlive what started them.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import parent_process
from multiprocessing.connection import wait
from multiprocessing.context import SpawnContext, SpawnProcess

_ENVIRONMENT = threading.RLock()


def child_environment() -> dict[str, str]:
    """Return the environment of this process without what steers Python, for a safe child."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    return {**kept, "PYTHONSAFEPATH": "1"}


def child_path() -> list[str]:
    """Return where a child may look for modules: as this process does, the current folder not."""
    here = os.path.realpath(os.curdir)
    return [place for place in sys.path if place and os.path.realpath(place) != here]


@contextmanager
def isolated_children() -> Iterator[None]:
    """Start children of this process safely inside the ``with`` block, one thread at a time.

    `multiprocessing` hands its children the environment as it is; where they look for modules it
    tells them once they run.
    """
    with _ENVIRONMENT:
        before = dict(os.environ)
        safe = child_environment()
        try:
            _become(safe)
            yield
        finally:
            _become(before)


def _become(environment: dict[str, str]) -> None:
    for name in set(os.environ) - set(environment):
        del os.environ[name]
    os.environ.update(environment)


class _IsolatedProcess(SpawnProcess):
    def start(self) -> None:
        with isolated_children():
            super().start()


class IsolatedContext(SpawnContext):
    """Context of `multiprocessing` whose processes are new interpreters, started safely."""

    Process = _IsolatedProcess


def end_with_parent() -> None:
    """End this process as soon as the one that started it is gone, its work done or not."""
    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
