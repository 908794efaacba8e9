"""The same results on a cluster as in this process.

The cluster is `dask.distributed`'s local one, two processes on this machine, reached as any other
would be: ``Client.get_executor()`` returns a `concurrent.futures.Executor` (dask.distributed,
API reference, "Client.get_executor").
"""

import os
from pathlib import Path

import pytest

import limbfe
from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.bow.solve import solve_elastic
from limbfe.case.build import build_setup
from limbfe.errors import GeometryError
from limbfe.studies.tasks.run import TaskFailure, run_tasks

distributed = pytest.importorskip("distributed")

CASES = Path(__file__).parents[3] / "cases"


def weight(item: tuple[BowSetup, float]) -> dict[str, object]:
    setup, draw_length = item
    if draw_length < 0.0:
        raise GeometryError("a draw length below zero")
    state = solve_elastic(adjust(setup, drawing={"length": draw_length, "steps": 2})).full_draw
    return {"draw_force_N": state.draw_force, "process": os.getpid()}


@pytest.mark.slow
def test_a_cluster_gives_what_this_process_gives(tmp_path):
    """Also across a journal: half the study runs on the cluster, the rest here."""
    setup = build_setup(limbfe.read_case(CASES / "ash_flatbow.toml"))
    setup = adjust(setup, analysis={"elements_per_limb": 4, "fineness": 0.5})
    items = {f"{mm} mm": (setup, 1e-3 * mm) for mm in (652, 431, -9, 577, 703)}
    half = dict(list(items.items())[:3])
    journal = tmp_path / "weights.jsonl"
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None, local_directory=tmp_path
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        executor = client.get_executor()
        run_tasks(weight, half, study="weights", executor=executor, journal=journal)
        far = run_tasks(weight, items, study="weights", executor=executor)
    near = run_tasks(weight, items, study="weights", workers=1, journal=journal)
    alone = run_tasks(weight, items, study="weights", workers=1)
    assert list(far) == list(near) == list(alone) == list(items)
    assert far["-9 mm"] == TaskFailure(kind="GeometryError", message="a draw length below zero")
    others = [name for name in items if name != "-9 mm"]
    assert os.getpid() not in {far[name]["process"] for name in others}
    for name in others:
        forces = {result[name]["draw_force_N"] for result in (far, near, alone)}
        assert len(forces) == 1, name
