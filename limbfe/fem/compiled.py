"""Compile inner loops with Numba and let a caller know when that takes place."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
import numpy as np
from numba.core import event
from numba.core.caching import FunctionCache
from numba.core.runtime.nrt import rtsys
from numpy.typing import NDArray

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """Compile `function` on its first call and keep the machine code on disk.

    The Global Interpreter Lock is released inside, so threads run bows side by side.  Only the
    contraction of a*b+c is allowed to change rounding.  With NUMBA_DISABLE_JIT=1 the function runs
    as it stands, line by line, for a debugger.
    """
    if getattr(numba.config, "DISABLE_JIT", False):
        return function
    decorate = numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
    dispatcher: Any = decorate(function)
    dispatcher._cache = _KeptCode(function)
    _drop_stale(dispatcher, Path(function.__code__.co_filename).parent)
    return cast(Function, dispatcher)


def as_read(array: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return an array as compiled passes take what they only read.

    Numba compiles a pass again for arrays that may be written or do not lie in one piece; this way
    there is one kind, and nothing is copied that lies in one piece.
    """
    view = np.ascontiguousarray(array, dtype=np.float64).view()
    view.setflags(write=False)
    return view


class _KeptCode(FunctionCache):
    """Numba's own cache, which loads kept machine code without getting ready to compile.

    To be able to compile, Numba imports SciPy's linear algebra and its own implementations of
    Python and NumPy: a quarter of a second before every command.  Machine code needs none of it.
    Where there is none yet, Numba does what it always does.
    """

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """Return the kept machine code for argument types, None if there is none."""
        rtsys.initialize(target_context)
        with self._guard_against_spurious_io_errors():
            kept = self._load_overload(sig, target_context)
        return super().load_overload(sig, target_context) if kept is None else kept


def _drop_stale(dispatcher: Any, folder: Path) -> None:
    """Forget machine code older than any file of its folder.

    Numba looks only at the file a function stands in, so a caller would keep the old code of a
    callee that was changed in another file.
    """
    cache = dispatcher._cache
    index = Path(cache.cache_path) / cache._cache_file._index_name
    if index.exists() and index.stat().st_mtime < _newest_source(folder):
        cache.flush()


@lru_cache
def _newest_source(folder: Path) -> float:
    return max(path.stat().st_mtime for path in folder.glob("*.py"))


@contextmanager
def announce_compilation(announce: Callable[[str], None]) -> Iterator[None]:
    """Call `announce` once if anything has to be compiled inside the ``with`` block.

    Machine code kept from an earlier run is loaded without compiling, and then nothing is
    announced.

    Parameters
    ----------
    announce : callable
        Receives one sentence for the user.
    """
    listener = _FirstCompilation(announce)
    with event.install_listener("numba:compile", listener):
        yield


class _FirstCompilation(event.Listener):
    def __init__(self, announce: Callable[[str], None]) -> None:
        self._announce = announce
        self._said = False

    def on_start(self, event: Any) -> None:
        if not self._said:
            self._said = True
            self._announce(
                "Compiling the solver for this machine: once, 10 to 20 seconds; later runs start "
                "at once."
            )

    def on_end(self, event: Any) -> None:
        """Nothing to say at the end."""
