"""What the benchmarks share, and the ratios to the peers printed after a run."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

# Benchmarks are no package and pytest imports each by itself: their helpers are found this way.
sys.path.insert(0, str(Path(__file__).parent))

from machine import peak_memory
from peers import comparison_lines


@pytest.fixture
def note_memory(benchmark: Any, request: pytest.FixtureRequest) -> Callable[..., None]:
    """Return a function that notes what a function of the benchmark's module takes of memory."""

    def note(function: str, small: Any, real: Any) -> None:
        found = peak_memory(request.path.stem, function, small, real)
        if found is not None:
            benchmark.extra_info["memory_MB"] = round(found, 1)

    return note


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    """Print every ratio to a peer that this run allows, with its spread."""
    session = getattr(config, "_benchmarksession", None)
    benches = [
        {"name": bench.name, "stats": bench, "extra_info": bench.extra_info}
        for bench in (session.benchmarks if session else ())
        if bench
    ]
    lines = list(comparison_lines(benches))
    if lines:
        terminalreporter.section("beside the peers: their time over ours, and its spread")
        for line in lines:
            terminalreporter.write_line(line)
