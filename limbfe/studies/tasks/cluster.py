"""A study on a cluster: its computations go to the workers of a scheduler, results come back here.

The scheduler is `dask.distributed`'s; what a worker was computing when it died is given to another
one, and nothing that was finished is lost.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from typing import Any

from limbfe.errors import CaseError, LimbfeError

_WAIT = 20.0
"""Seconds within which a scheduler must answer."""


@contextmanager
def cluster_executor(address: str | None) -> Iterator[Executor | None]:
    """Give the executor of a running cluster; None where there is no address.

    Parameters
    ----------
    address : str or None
        Of the scheduler, such as ``"tcp://node1:8786"``; or a scheduler's file (JSON).

    Raises
    ------
    CaseError
        If `distributed` is not installed, or no scheduler answers there, or it has no workers.
    LimbfeError
        If several workers died over the same computation.
    """
    if address is None:
        yield None
        return
    try:
        from distributed import Client, KilledWorker
    except ImportError as error:
        raise CaseError(
            f'cluster "{address}": needs the package distributed; install it with '
            "pip install 'limbfe[cluster]', here and on every worker"
        ) from error
    try:
        found = {"scheduler_file": address} if address.endswith(".json") else {"address": address}
        client: Any = Client(**found, timeout=_WAIT, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise CaseError(
            f'cluster "{address}": no scheduler answers there; start one with '
            "dask scheduler, workers with dask worker ADDRESS, and give its address, such as "
            "tcp://127.0.0.1:8786"
        ) from error
    with client:
        if not client.scheduler_info()["workers"]:
            raise CaseError(
                f'cluster "{address}": its scheduler has no workers; start some with '
                f"dask worker {address}"
            )
        try:
            yield client.get_executor()
        except KilledWorker as error:
            raise LimbfeError(
                f'cluster "{address}": several workers died over one computation, perhaps for '
                "want of memory; give them more, and run the study again: with a file to keep "
                "results in (--keep) it goes on where it was"
            ) from error
