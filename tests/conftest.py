"""The invented bow that pictures, reports and files are tested with."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from limbfe.analysis.results.assessment import Assessment

# As commands and studies do: there is a worker a core, and the threads of a BLAS that wait for each
# other spin, up to ten times the processor time of a test.  Read once, when NumPy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

WHOLE_BOWS = {
    "limbfe.api.bench.shave",
    "limbfe.api.bench.take_wood",
    "limbfe.api.bow.shoot",
    "limbfe.api.studies.compare",
}
"""Examples that work on a shipped bow for seconds; each is tried quickly on a coarse one."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.name in WHOLE_BOWS:
            item.add_marker(pytest.mark.slow)


@pytest.fixture(scope="session")
def assessment() -> Assessment:
    from . import invented_bow

    return invented_bow.make_assessment()
