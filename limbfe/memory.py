"""How much memory may be taken, and memory that was freed given back to the system."""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

MOST_MEMORY = 1e9
"""Bytes past which what is asked is refused unless large is allowed; a laptop has some more."""
ANYWAY = "; --allow-large on the command line takes it as it is"
_SAID = "LIMBFE_ALLOW_LARGE"
"""In the environment, so that worker processes know of it."""


def large_is_allowed() -> bool:
    """Return whether cases that are only large, not wrong, are let through."""
    return os.environ.get(_SAID) == "1"


@contextmanager
def allow_large(*, yes: bool = True) -> Iterator[None]:
    """Let cases of any size through inside the ``with`` block, in workers too.

    A case file cannot say so itself: it may come from somebody else.
    """
    before = os.environ.get(_SAID)
    if yes:
        os.environ[_SAID] = "1"
    try:
        yield
    finally:
        if before is None:
            os.environ.pop(_SAID, None)
        else:
            os.environ[_SAID] = before


def give_back() -> None:
    """Hand what lies free inside this process back, where the C library can do so.

    That library keeps freed memory for whoever asks next.  A plate that was meshed and factorised
    leaves some hundred megabytes of it in pieces that the next plate's larger arrays do not fit,
    so that zones judged one after another would add up: 825 MB for two of which 6 are kept.
    """
    if sys.platform.startswith("linux"):
        trim = getattr(ctypes.CDLL(None), "malloc_trim", None)  # of glibc alone
        if trim is not None:
            trim(0)
