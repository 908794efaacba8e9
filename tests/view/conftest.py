from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from limbfe.analysis.results import Assessment


@pytest.fixture(scope="session")
def synthetic() -> ModuleType:
    """The module that invents a bow; tests are not a package, so it is loaded by path."""
    name = "limbfe_tests_view_synthetic"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).parent / "synthetic.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


@pytest.fixture(scope="session")
def assessment(synthetic: ModuleType) -> Assessment:
    made: Assessment = synthetic.make_assessment()
    return made


@pytest.fixture(autouse=True)
def _skip_without_opengl(request: pytest.FixtureRequest) -> None:
    if request.node.get_closest_marker("render"):
        from limbfe.view.probe import probe_rendering

        outcome = probe_rendering()
        if not outcome.available:
            pytest.skip(outcome.reason)
