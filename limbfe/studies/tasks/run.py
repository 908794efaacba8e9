"""Many independent computations: in this process, over processes, or on a cluster.

A study names its computations, hands them to `run_tasks` and gets their results back in the order
of the names, whatever computed them and in whatever order they ended.  With a journal every result
is on disk as soon as it is known, and a study that was stopped goes on where it was.
"""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import Executor, Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from threadpoolctl import threadpool_limits

from limbfe.children import IsolatedContext, end_with_parent, isolated_children
from limbfe.errors import LimbfeError
from limbfe.read_only import hand_on_read_only
from limbfe.studies.tasks.journal import Journal

Item = TypeVar("Item")
Found = TypeVar("Found")

hand_on_read_only()

Result = dict[str, Any]
Tell = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskFailure:
    """A computation that was refused or found no equilibrium.

    Attributes
    ----------
    kind : str
        Name of the exception, one of `limbfe.errors`.
    message : str
    """

    kind: str
    message: str


def run_tasks(
    work: Callable[[Item], Result],
    tasks: Mapping[str, Item],
    *,
    study: str,
    workers: int | None = None,
    executor: Executor | None = None,
    journal: Path | None = None,
    tell: Tell | None = None,
) -> dict[str, Result | TaskFailure]:
    """Compute ``work(item)`` for every named item.

    Parameters
    ----------
    work : callable
        A function of a module (so that other processes can import it) from one item to a
        dictionary of what JSON holds: text, numbers, lists, dictionaries.
    tasks : mapping of str to item
        Names must be stable: a resumed study finds its results by them.  Items are looked up one by
        one, when they are handed out; see `Made`.
    study : str
        Everything the results depend on, such as the study's name, its options and the digests of
        its case files; a journal of another study is refused.
    workers : int, optional
        Processes; by default one for every core this process may use.  1 computes here.
    executor : concurrent.futures.Executor, optional
        Used instead of own processes, for example the executor of a cluster's client.
    journal : Path, optional
        File of JSON lines.  Results are appended as they come; those already there are not
        computed again.
    tell : callable, optional
        Told after every result how many of how many are there.

    Returns
    -------
    dict
        In the order of `tasks`.  Errors of the limbfe family become `TaskFailure`; any other
        exception stops the study and is raised.

    Raises
    ------
    CaseError
        If the journal belongs to another study or cannot be written.
    LimbfeError
        If a worker process died.
    KeyboardInterrupt
        After what was finished has been written to the journal.

    Examples
    --------
    >>> from limbfe.wood import BellyLaw, bending_strength
    >>> def rupture(strengths):
    ...     tension, crushing = (1e6 * strength for strength in strengths)
    ...     law = BellyLaw(modulus=12e9, crushing=crushing, limit=crushing, plateau=crushing)
    ...     return {"MPa": round(bending_strength(law, tension) / 1e6)}
    >>> woods = {"green": (70.0, 30.0), "dry": (130.0, 60.0), "mistaken": (50.0, 60.0)}
    >>> found = run_tasks(rupture, woods, study="rupture", workers=1)
    >>> found["green"], found["dry"], found["mistaken"].kind
    ({'MPa': 54}, {'MPa': 104}, 'MaterialError')
    """
    record = Journal.open(journal, study) if journal else Journal.nowhere()
    found = {name: record.results[name] for name in tasks if name in record.results}
    missing = [name for name in tasks if name not in found]

    def keep(name: str, result: Result) -> None:
        found[name] = record.add(name, result)
        if tell is not None:
            tell(len(found), len(tasks))

    if tell is not None:
        tell(len(found), len(tasks))
    count = min(workers or available_cores(), len(missing))
    if executor is None and count <= 1:
        _compute_here(work, tasks, missing, keep)
    else:
        with worker_pool(count, executor) as pool:
            if pool is not None:
                _collect(pool, work, tasks, missing, found, keep)
            else:
                _compute_here(work, tasks, missing, keep)
    return {name: _outcome(found[name]) for name in tasks}


def available_cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class Made(Mapping[str, Item]):
    """Items that are made when they are handed out, so that work on the first begins at once."""

    def __init__(self, names: Iterable[str], make: Callable[[str], Item]) -> None:
        self._names, self._make = tuple(names), make

    def __getitem__(self, name: str) -> Item:
        return self._make(name)

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


def _compute_here(
    work: Callable[[Item], Result],
    tasks: Mapping[str, Item],
    missing: list[str],
    keep: Callable[[str, Result], None],
) -> None:
    for name in missing:
        keep(name, _guarded(work, tasks[name]))


def _collect(
    pool: Executor,
    work: Callable[[Item], Result],
    tasks: Mapping[str, Item],
    missing: list[str],
    kept: Mapping[str, Result],
    keep: Callable[[str, Result], None],
) -> None:
    """Hand `keep` every result as it comes; when stopped, what is there already."""
    names: dict[Future[Result], str] = {}
    try:
        for name in missing:
            names[pool.submit(_guarded, work, tasks[name])] = name
        for future in as_completed(list(names)):
            keep(names[future], future.result())
            del names[future]
    except BrokenProcessPool as error:
        raise LimbfeError(
            f"{_DIED}: finished results are kept when it has a folder to write to"
        ) from error
    except BaseException:
        for future, name in names.items():
            if not isinstance(pool, _OwnPool):
                # at Ctrl-C the thread of our own pool fails the futures of dead workers; they
                # must not be cancelled under its hands, and the pool drops the rest itself
                future.cancel()
            finished = future.done() and not future.cancelled() and future.exception() is None
            if finished and name not in kept:
                keep(name, future.result())
        raise


def map_over(
    pool: Executor | None, work: Callable[[Item], Found], items: Iterable[Item]
) -> list[Found]:
    """Return ``work(item)`` of every item, in their order, by the processes of `worker_pool`.

    For short computations whose results are no study's, and may be anything that can be pickled.
    """
    if pool is None:
        return [work(item) for item in items]
    try:
        return list(pool.map(work, items))
    except BrokenProcessPool as error:
        raise LimbfeError(_DIED) from error


_DIED = "a worker process died, perhaps for want of memory; run the study again with fewer workers"


class _OwnPool(ProcessPoolExecutor):
    """Processes of ours: they end with what started them."""


@contextmanager
def worker_pool(
    workers: int | None,
    executor: Executor | None = None,
    ready: Callable[[], None] | None = None,
) -> Iterator[Executor | None]:
    """Give an executor for several calls of `run_tasks`, so that processes start only once.

    Parameters
    ----------
    workers : int or None
        Processes, None for one a core.
    executor : Executor, optional
        Given on as it is, and stays the caller's.
    ready : callable, optional
        Does nothing: a function of the module whose loading takes long.  Processes of our own start
        at once by it, while the caller goes on.

    Yields
    ------
    Executor or None
        None for one worker, and where the system gives no semaphores (a read-only /dev/shm):
        `run_tasks` then computes here.
    """
    count = workers or available_cores()
    if executor is not None or count <= 1:
        yield executor
        return
    own = _own_pool(count)
    if own is None:
        yield None
        return
    try:
        if ready is not None:
            for _ in range(count):
                own.submit(ready)
        yield own
    finally:
        own.shutdown(wait=False, cancel_futures=True)


def _own_pool(count: int) -> _OwnPool | None:
    """Return processes of ours, None where the system gives no semaphores for their queues."""
    try:
        with isolated_children():  # its queues start a process that looks after semaphores
            return _OwnPool(count, mp_context=IsolatedContext(), initializer=_prepare_worker)
    except (OSError, ImportError, NotImplementedError):
        return None


def _prepare_worker() -> None:
    """One compiled thread a worker, since the workers fill the cores; no word at Ctrl-C."""
    end_with_parent()
    os.environ["NUMBA_NUM_THREADS"] = "1"
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def _guarded(work: Callable[[Item], Result], item: Item) -> Result:
    """Return the result as JSON would give it back, so that a resumed study sees the same.

    Linear algebra has one thread wherever it runs: workers fill the cores, and sums over several
    threads end in other digits.  SciPy is loaded first, since only what is loaded can be limited.
    """
    import scipy.linalg  # noqa: F401

    try:
        with threadpool_limits(1):
            result = work(item)
    except LimbfeError as error:
        result = {"failed": str(error), "kind": type(error).__name__}
    restored: Result = json.loads(json.dumps(result))
    return restored


def _outcome(result: Result) -> Result | TaskFailure:
    if "failed" in result:
        return TaskFailure(kind=result["kind"], message=result["failed"])
    return result
