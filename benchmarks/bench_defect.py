"""Defect floor: the mesher and one whole judgement.

Run with ``python -m pytest benchmarks/bench_defect.py``.
"""

from dataclasses import replace

import pytest

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.analysis.zones.verdicts import local_problem
from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.defect.mesh import strip_mesh
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip
from limbfe.failure.local import judge_zone


@pytest.mark.parametrize("size", [0.5e-3, 0.2e-3, 0.1e-3])
def test_mesher(benchmark, size):
    """Strip 40 mm wide round a 12 mm knot, by element size at its rim."""
    strip = Strip(x=[-0.08, 0.08], right=[-0.02, -0.018], left=[0.02, 0.019])
    knot = Ellipse(x=0.0, y=2e-3, a=6e-3, b=6e-3)
    made = benchmark.pedantic(
        strip_mesh, args=(strip, (knot,), Fineness(near=size)), rounds=3, warmup_rounds=1
    )
    benchmark.extra_info["unknowns"] = 2 * len(made.mesh.nodes)


@pytest.mark.parametrize("member", ["full", "quick"])
@pytest.mark.parametrize("state", ["live", "missing", "dead"])
def test_judgement(benchmark, member, state):
    """The elm's knot: a plate meshed and factorised for each knot stiffness, all windows."""
    bow = build_setup(read_case("cases/elm_longbow.toml"))
    stave = replace(bow.stave, knots=tuple(replace(k, state=state) for k in bow.stave.knots))
    solved = exercised_bow(replace(bow, stave=stave), beyond=False)
    problem, _ = local_problem(solved.model, limb_load(solved), stave.knots[0])
    problem = replace(problem, member=member, rough=member == "quick")
    outcome = benchmark.pedantic(judge_zone, args=(problem,), rounds=2, warmup_rounds=1)
    benchmark.extra_info["layers"] = len(outcome.fields)
