"""What is judged without `--allow-large` fits into a gigabyte, of libraries and all."""

from __future__ import annotations

import subprocess
import sys
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
