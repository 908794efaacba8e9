"""What is judged without `--allow-large` fits into a gigabyte, of libraries and all."""

from __future__ import annotations

import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

ELM = Path(__file__).parents[3] / "cases" / "elm_longbow.toml"
CODE = r"""
import re, sys
import limbfe
print(len(limbfe.assess(sys.argv[1]).zones))
print(re.search(r"VmHWM:\s*(\d+) kB", open("/proc/self/status").read())[1])
"""
"""Not `ru_maxrss`: that of a new process begins with all that its parent held."""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="other systems count memory otherwise")
def test_a_long_patch_and_a_knot_are_judged_within_a_gigabyte(tmp_path):
    """A patch takes most: 0.98 GB where it is 240 mm long (longer ones are sampled apart)."""
    text = ELM.read_text(encoding="utf-8").replace("steps = 30", "steps = 8")
    assert text.count('length = "52 mm"') == 1
    path = tmp_path / "long.toml"
    path.write_text(text.replace('length = "52 mm"', 'length = "200 mm"'), encoding="utf-8")
    # Where machine code is not kept yet, the compiler itself takes another 0.3 GB in the first run.
    for _ in range(2):
        done = subprocess.run(
            [sys.executable, "-c", CODE, str(path)], capture_output=True, text=True, check=True
        )
    zones, peak = (int(line) for line in done.stdout.split())
    assert zones == 2
    assert 1024 * peak < 1e9


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="other systems count memory otherwise")
def test_zones_judged_at_the_same_time_take_a_gigabyte_together():
    """What processes have in common counts once: PSS of `/proc/PID/smaps_rollup`, proc(5)."""
    most, alongside = 0, 0
    code = "from limbfe.cli import command; command()"
    with subprocess.Popen(
        [sys.executable, "-c", code, "assess", str(ELM)], stdout=subprocess.DEVNULL
    ) as process:
        while process.poll() is None:
            kept = [_pss(pid) for pid in (process.pid, *_copies(process.pid))]
            most, alongside = max(most, sum(kept)), max(alongside, len(kept) - 1)
            time.sleep(0.01)
    assert process.returncode == 0
    assert alongside <= 2
    assert 0.3e9 < 1024 * most < 1e9


def _copies(pid: int) -> list[int]:
    try:
        return [int(p) for p in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except OSError:
        return []


def _pss(pid: int) -> int:
    try:
        found = re.search(r"^Pss:\s*(\d+) kB", Path(f"/proc/{pid}/smaps_rollup").read_text(), re.M)
    except OSError:
        return 0
    return int(found[1]) if found else 0
