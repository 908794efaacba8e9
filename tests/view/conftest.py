from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _skip_without_opengl(request: pytest.FixtureRequest) -> None:
    if request.node.get_closest_marker("render"):
        from limbfe.view.probe import probe_rendering

        outcome = probe_rendering()
        if not outcome.available:
            pytest.skip(outcome.reason)
