"""Ten thousand yielding bows of one stave beside a plain loop over ``draw``.

Run with ``python -m pytest benchmarks/bench_chance.py`` from the root of the checkout.  What a bow
costs either way is in the columns ``bows`` and ``ms_a_bow``.
"""

import time
from dataclasses import replace

import pytest

import limbfe
from limbfe.api import read_case
from limbfe.case.build import build_setup

CASE = "cases/elm_longbow.toml"
PLAIN = 8


@pytest.mark.parametrize("samples", [10_000, 40_000, 160_000])
@pytest.mark.benchmark(group="elm: chance of failure, knots by tables, one process")
def test_chance(benchmark, samples):
    """The bows drawn in full are among it; more quick ones cost in proportion."""
    started = time.process_time()
    found = benchmark.pedantic(limbfe.chance, (CASE,), {"samples": samples}, rounds=1)
    spent = time.process_time() - started
    benchmark.extra_info["bows"] = samples
    benchmark.extra_info["cpu_s"] = round(spent, 1)
    benchmark.extra_info["ms_a_bow"] = round(1e3 * spent / samples, 2)
    assert 0.0 < found.chances["any"].value < 0.2


@pytest.mark.benchmark(group="elm: chance of failure, knots by tables, one process")
def test_plain_loop(benchmark):
    """Each bow of another stiffness drawn by `draw`, its knots not judged at all."""
    setup = build_setup(read_case(CASE))
    wood = setup.stave.heartwood

    def loop():
        for k in range(PLAIN):
            stiffer = replace(
                wood,
                elasticity=replace(wood.elasticity, E_L=(0.9 + 0.02 * k) * wood.elasticity.E_L),
            )
            limbfe.draw(replace(setup, stave=replace(setup.stave, heartwood=stiffer)))

    loop()
    started = time.process_time()
    benchmark.pedantic(loop, rounds=1)
    benchmark.extra_info["bows"] = PLAIN
    benchmark.extra_info["ms_a_bow"] = round(1e3 * (time.process_time() - started) / PLAIN, 2)
