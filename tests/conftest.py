"""The invented bow that pictures, reports and files are tested with."""

from __future__ import annotations

import pytest

from limbfe.analysis.results.assessment import Assessment

from . import invented_bow

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
    return invented_bow.make_assessment()
