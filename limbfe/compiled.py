"""Compile inner loops with Numba and let a caller know when that takes place."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar, cast

import numpy as np
from llvmlite.binding import parse_assembly, parse_bitcode
from numpy.typing import NDArray

from limbfe.errors import LimbfeError

try:
    import numba
    import numba.extending
except ValueError as error:  # such as NUMBA_NUM_THREADS=0
    given = ", ".join(sorted(name for name in os.environ if name.startswith("NUMBA_")))
    raise LimbfeError(
        f"numba, which compiles the solver, cannot be loaded: {error} Look at what the environment "
        f"sets for it: {given}"
    ) from None
event: Any
FunctionCache: Any
CompileResultCacheImpl: Any
rtsys: Any
try:
    from numba.core import event
    from numba.core.caching import CompileResultCacheImpl, FunctionCache
    from numba.core.runtime.nrt import rtsys
except ImportError:  # names inside Numba, which owes us none of them
    event, FunctionCache, CompileResultCacheImpl, rtsys = None, None, None, None

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """Compile `function` on its first call and keep the machine code on disk.

    The Global Interpreter Lock is released inside, so threads run bows side by side.  Only the
    contraction of a*b+c is allowed to change rounding.  With NUMBA_DISABLE_JIT=1 the function runs
    as it stands, line by line, for a debugger.
    """
    if getattr(numba.config, "DISABLE_JIT", False):
        return function
    decorate = numba.njit(nogil=True, error_model="numpy", fastmath={"contract"})
    dispatcher: Any = decorate(function)
    # Where Numba has changed inside, or no folder can be written to, every run compiles.
    with suppress(AttributeError, TypeError, RuntimeError, OSError):
        kept = _KeptCode(function)
        _drop_stale(kept, _floor(Path(function.__code__.co_filename)))
        dispatcher._cache = kept
    if not isinstance(dispatcher._cache, _KeptCode):
        _NOT_KEPT.add(_package(function))
    return cast(Function, dispatcher)


_NOT_KEPT: set[str] = set()
"""Packages of whose functions no run keeps the machine code for the next."""


def _package(function: Callable[..., Any]) -> str:
    return function.__module__.partition(".")[0]


def compiled_inside(function: Function) -> Function:
    """Compile `function` where compiled code calls it; called from Python it runs line by line.

    No way in from Python is made for it.  That takes Numba longer than many a function itself when
    arguments are tuples of many arrays.
    """
    if getattr(numba.config, "DISABLE_JIT", False):
        return function
    decorate: Any = numba.extending.register_jitable
    made = decorate(nogil=True, error_model="numpy", fastmath={"contract"})(function)
    return cast(Function, made)


def as_read(array: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return an array as compiled passes take what they only read.

    Numba compiles a pass again for arrays that may be written or do not lie in one piece; this way
    there is one kind, and nothing is copied that lies in one piece.
    """
    view = np.ascontiguousarray(array, dtype=np.float64).view()
    view.setflags(write=False)
    return view


class _ReadyCode(CompileResultCacheImpl or object):  # type: ignore[misc]
    """What of a kept function is needed to call it.

    Numba also parses the bitcode beside the machine code, asks it for every symbol and times each
    question: twice as long as all the rest.  Here that waits until another function is compiled
    around this one.
    """

    def rebuild(self, target_context: Any, payload: Any) -> Any:
        """Return a kept function, ready to be called."""
        try:
            (name, kind, (code, bitcode)), names, *rest = payload
            codegen = target_context.codegen()
            symbols = codegen._engine._defined_symbols
            symbols |= {names.llvm_func_name, names.llvm_cpython_wrapper_name}
            symbols |= {names.llvm_cfunc_wrapper_name}
            linked = codegen._library_class._get_module_for_linking.__name__
        except (AttributeError, TypeError, ValueError):  # Numba has changed inside
            return super().rebuild(target_context, payload)
        nothing = parse_assembly("").as_bitcode()
        found = super().rebuild(target_context, ((name, kind, (code, nothing)), names, *rest))
        setattr(found.library, linked, lru_cache(lambda: parse_bitcode(bitcode)))
        return found


class _KeptCode(FunctionCache or object):  # type: ignore[misc]
    """Numba's own cache, which loads kept machine code without getting ready to compile.

    To be able to compile, Numba imports SciPy's linear algebra and its own implementations of
    Python and NumPy: a quarter of a second before every command.  Machine code needs none of it.
    Where there is none yet, Numba does what it always does; damaged code is thrown away.
    """

    _impl_class = _ReadyCode

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """Return the kept machine code for argument types, None if there is none."""
        try:
            rtsys.initialize(target_context)
            with self._guard_against_spurious_io_errors():
                kept = self._load_overload(sig, target_context)
            return super().load_overload(sig, target_context) if kept is None else kept
        except Exception:  # unpickling junk may raise anything
            with suppress(Exception):
                self.flush()
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep compiled machine code where that can be done."""
        with suppress(Exception):
            super().save_overload(sig, data)


def _floor(file: Path) -> Path:
    """Return the floor a file of the package stands on, with all its rooms."""
    package = Path(__file__).parent
    if not file.is_relative_to(package):
        return file.parent
    return package / file.relative_to(package).parts[0]


def _drop_stale(cache: Any, folder: Path) -> None:
    """Forget machine code older than any file of its floor.

    Numba looks only at the file a function stands in, so a caller would keep the old code of a
    callee that was changed in another file.
    """
    index = Path(cache.cache_path) / cache._cache_file._index_name
    if index.exists() and index.stat().st_mtime < _newest_source(folder):
        cache.flush()


@lru_cache
def _newest_source(folder: Path) -> float:
    return max(path.stat().st_mtime for path in folder.rglob("*.py"))


@contextmanager
def announce_compilation(announce: Callable[[str], None]) -> Iterator[None]:
    """Call `announce` once for each large part that has to be compiled inside the ``with`` block.

    Machine code kept from an earlier run is loaded without compiling, and then nothing is
    announced: two commands of which the second shoots for the first time say two different things.

    Parameters
    ----------
    announce : callable
        Receives one sentence for the user.
    """
    if event is None:
        yield
        return
    with event.install_listener("numba:compile", _FirstCompilation(announce)):
        yield


QUIET = ("numba.", "limbfe.stave.", "limbfe.fem.", "limbfe.defect.")
"""Where what is compiled takes a second or two and is not worth a word."""


def _part(module: str) -> str | None:
    """Return what a user calls the part of the program that a module belongs to."""
    if module.startswith("limbfe.beam.shot."):
        return "the shot"
    return None if module.startswith(QUIET) else "the solver"


class _FirstCompilation(event.Listener if event else object):  # type: ignore[misc]
    def __init__(self, announce: Callable[[str], None]) -> None:
        self._announce = announce
        self._said: set[str | None] = {None}

    def on_start(self, event: Any) -> None:
        part = _part(event.data["dispatcher"].py_func.__module__)
        if part not in self._said:
            self._said.add(part)
            lasts = "once, a minute or two; later runs start at once."
            # not this function's own: of one compiled where others call it nothing is kept
            if _package(event.data["dispatcher"].py_func) in _NOT_KEPT:
                lasts = (
                    "a minute or two in every run, since no folder that would keep the machine "
                    "code can be written to; name one in NUMBA_CACHE_DIR."
                )
            self._announce(f"Compiling {part} for this machine: {lasts}")

    def on_end(self, event: Any) -> None:
        """Nothing to say at the end."""
