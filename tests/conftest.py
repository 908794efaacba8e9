"""The invented bow that pictures, reports and files are tested with."""

from __future__ import annotations

import pytest

from limbfe.analysis.results.assessment import Assessment

from . import invented_bow


@pytest.fixture(scope="session")
def assessment() -> Assessment:
    return invented_bow.make_assessment()
