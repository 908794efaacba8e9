"""Write a file whole or not at all.

What is being made has a name that begins with `.part-`, the machine's and the process's own.  A
run that is killed outright leaves it behind; the next run that writes into the folder removes it.
"""

from __future__ import annotations

import os
import platform
import re
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from limbfe.errors import LimbfeError

fcntl: Any
try:
    import fcntl
except ImportError:  # not on Windows
    fcntl = None

PATIENCE = 30.0
"""Seconds to wait for another run's exchange of files, which takes a few milliseconds."""


def part_name() -> str:
    """Return how the names of what this process has not finished begin."""
    machine = re.sub(r"\W", "", platform.node())
    return f".part-{machine}-{os.getpid()}-"


def clear_parts(folder: Path) -> None:
    """Remove from a folder what runs on this machine have left there that are no longer alive."""
    if os.name != "posix":  # elsewhere asking a process whether it lives would end it
        return
    own = part_name().rsplit("-", 2)[0]
    for path in folder.glob(f"{own}-*-*"):
        process = path.name.removeprefix(f"{own}-").split("-")[0]
        if process.isdecimal() and not _alive(int(process)):
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink(missing_ok=True)


def _alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Let one run at a time exchange its files in a folder, for the moment that takes.

    The lock lies on the folder itself and ends with its process, however that ends.  Where there
    is none to be had (other systems, some shared folders) runs are not kept apart.

    Raises
    ------
    LimbfeError
        If another run holds the folder for `PATIENCE`.
    """
    if fcntl is None:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        end = time.monotonic() + PATIENCE
        while not _locked(handle):
            if time.monotonic() > end:
                raise LimbfeError(f"{folder}: another run is writing there; give another folder")
            time.sleep(0.01)
        yield
    finally:
        os.close(handle)


def _locked(handle: int) -> bool:
    """Return False if another run has the folder; True where folders cannot be locked, too."""
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True


@contextmanager
def whole_file(path: str | os.PathLike[str]) -> Iterator[Path]:
    """Give a temporary name beside `path` and move it there once the block has succeeded.

    Raises
    ------
    LimbfeError
        If the folder cannot be written, or `path` is a device, a pipe or a folder.
    """
    target = Path(os.path.realpath(path))
    if target.exists() and not target.is_file():
        raise LimbfeError(f"{path}: is no ordinary file and cannot be replaced; give another name")
    try:
        clear_parts(target.parent)
        handle, name = tempfile.mkstemp(suffix=target.suffix, prefix=part_name(), dir=target.parent)
    except OSError as error:
        raise LimbfeError(
            f"{target}: cannot be written ({error.strerror}); choose a folder that exists"
        ) from error
    os.close(handle)
    partial = Path(name)
    try:
        yield partial
        partial.chmod(0o644)
        partial.replace(target)
    finally:
        partial.unlink(missing_ok=True)
