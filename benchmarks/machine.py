"""What this machine has, and how much memory a computation takes of it.

Memory is measured in a process of its own.  It imports everything and runs the computation once at
its smallest size, so that libraries and compiled code are there, and gives the garbage back to the
system.  Then Linux is told to forget the largest resident size it has seen
(``/proc/self/clear_refs``, value 5), the computation runs at its real size, and the largest
resident size since then, less the resident size before, is what the computation took at its
fullest moment: arrays of NumPy, factors of SuperLU and workspace of LAPACK alike, with what was
freed again on the way.
"""

from __future__ import annotations

import ctypes
import gc
import importlib
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
WORKERS = [count for count in (1, 2, 4, 8, 16) if count <= (os.cpu_count() or 1)]
"""Processes by which a computation is scaled: as many as there are cores."""

STATUS, CLEAR = Path("/proc/self/status"), Path("/proc/self/clear_refs")


def peak_memory(module: str, function: str, small: Any, real: Any) -> float | None:
    """Return what ``module.function(real)`` takes, MB; None where no process can tell."""
    if not CLEAR.exists():
        return None
    words = [sys.executable, __file__, module, function, json.dumps(small), json.dumps(real)]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    return float(done.stdout.split()[-1])


def resident(name: str) -> float:
    """Return a figure of this process's memory, MB."""
    found = re.search(rf"{name}:\s*(\d+) kB", STATUS.read_text())
    assert found is not None
    return int(found[1]) / 1024.0


def main(module: str, function: str, small: str, real: str) -> None:
    """Measure one computation in this process and print it."""
    sys.path[:0] = [str(HERE), str(HERE.parent)]
    run = getattr(importlib.import_module(module), function)
    run(json.loads(small))
    gc.collect()
    ctypes.CDLL(None).malloc_trim(0)
    before = resident("VmRSS")
    CLEAR.write_text("5")
    run(json.loads(real))
    print(resident("VmHWM") - before)


if __name__ == "__main__":
    main(*sys.argv[1:])
