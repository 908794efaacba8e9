"""The whole line on the shipped elm bow: solve, assess, many bows at once, commands as typed.

Run with ``python -m pytest benchmarks/bench_bow.py``.  Commands are timed as whole processes, with
the compiled beam loop already in its cache; each carries the largest memory it held.
"""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from machine import WORKERS

from limbfe.analysis.assess import assess_solved
from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.setup import adjust
from limbfe.analysis.bow.solve import solve_bow, solve_elastic
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.studies.tasks.run import run_tasks

CASES = Path(__file__).parents[1] / "cases"
ELM = CASES / "elm_longbow.toml"
SIZES = {"coarse": (8, 0.5), "default": (12, 0.75), "fine": (24, 1.5)}
"""Elements a limb and fineness of the sections."""
BOWS = 96


def elm(size="default"):
    elements, fineness = SIZES[size]
    setup = build_setup(read_case(ELM))
    return adjust(setup, analysis={"elements_per_limb": elements, "fineness": fineness})


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.benchmark(group="elm bow: sections, brace, 30 steps, yielding belly")
def test_solve(benchmark, size):
    solved = benchmark.pedantic(solve_bow, (elm(size),), rounds=3, warmup_rounds=1)
    benchmark.extra_info["draw_weight_N"] = solved.full_draw.draw_force


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.benchmark(group="elm bow: the same, elastic")
def test_solve_elastic(benchmark, size):
    benchmark.pedantic(solve_elastic, (elm(size),), rounds=3, warmup_rounds=1)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.benchmark(group="elm bow: yielding draw, exercise, draw once exercised")
def test_solve_and_draw_again(benchmark, size):
    """Four stages, let down and strung after each, and the draw that counts."""

    def exercised(setup):
        return exercised_bow(setup, beyond=False)

    bow = benchmark.pedantic(exercised, (elm(size),), rounds=3, warmup_rounds=1)
    benchmark.extra_info["force_N"] = bow.full_draw.draw_force


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.benchmark(group="elm bow: stress, hot spots, a knot and a patch judged with advice")
def test_judge(benchmark, size):
    solved = solve_bow(elm(size))
    assessment = benchmark.pedantic(assess_solved, (solved,), rounds=2, warmup_rounds=0)
    benchmark.extra_info["strength_used_A"] = assessment.zones[0].strength_used


def weight(thickness_factor):
    setup = elm("coarse")
    stave = replace(setup.stave, thickness=setup.stave.thickness * thickness_factor)
    return {"draw_weight_N": solve_bow(replace(setup, stave=stave)).full_draw.draw_force}


@pytest.mark.parametrize("workers", WORKERS)
@pytest.mark.benchmark(group=f"study of {BOWS} yielding bows, by processes")
def test_study(benchmark, workers):
    """Starting the processes, each of which loads the libraries, is part of it."""
    bows = {f"{factor:.4f}": factor for factor in np.linspace(0.9, 1.05, BOWS)}
    found = benchmark.pedantic(
        run_tasks, (weight, bows), {"study": "weights", "workers": workers}, rounds=3
    )
    assert len(found) == BOWS
    benchmark.extra_info["workers"] = workers


COMMANDS = {
    "--help": (["--help"], 0.3),
    "draw, no zones": (["draw", str(ELM.with_name("ash_flatbow.toml"))], 1.4),
    "draw": (["draw", str(ELM)], 1.9),
    "assess": (["assess", str(ELM)], 8.0),
}
"""Words, and the most processor time they may take, s: a third more than beside other work."""


WITH_MEMORY = """
import re, sys
from limbfe.cli import command
try:
    command()
except SystemExit:
    pass
kilobytes = re.search(r"VmHWM:\\s*(\\d+)", open("/proc/self/status").read())[1]
print(kilobytes, file=sys.stderr)
"""


def run_command(words):
    """Run one command; return the largest memory it held, MB, and its processor time, s."""
    import resource  # not everywhere; the test that comes here is skipped there

    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [sys.executable, "-c", WITH_MEMORY, *words]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return int(done.stderr.split()[-1]) / 1024.0, spent


@pytest.mark.skipif(
    not Path("/proc/self/status").exists(), reason="memory of a process cannot be read here"
)
@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.benchmark(group="commands as whole processes")
def test_command(benchmark, command):
    words, most = COMMANDS[command]
    memory, spent = benchmark.pedantic(run_command, (words,), rounds=3, warmup_rounds=1)
    benchmark.extra_info.update(memory_MB=memory, processor_s=spent)
    assert spent < most
