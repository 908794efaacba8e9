"""Defect floor: the mesher and one whole judgement.

Run with ``python -m pytest benchmarks/bench_defect.py``.
"""

import numpy as np
import pytest

from limbfe.analysis.traces import plane_strength
from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.mesh import strip_mesh
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip
from limbfe.defect.zone import Grain, KnotTrace
from limbfe.failure.local import judge_zone
from limbfe.failure.problem import Band, DepthSlice, LocalProblem
from limbfe.wood.species import make_wood

WOOD = make_wood(name="heartwood", species="rock elm", moisture=0.1, given={}, cov={})


@pytest.mark.parametrize("size", [0.5e-3, 0.2e-3, 0.1e-3])
def test_mesher(benchmark, size):
    """Strip 40 mm wide round a 12 mm knot, by element size at its rim."""
    strip = Strip(x=[-0.08, 0.08], right=[-0.02, -0.018], left=[0.02, 0.019])
    knot = Ellipse(x=0.0, y=2e-3, a=6e-3, b=6e-3)
    made = benchmark.pedantic(
        strip_mesh, args=(strip, (knot,), Fineness(near=size)), rounds=3, warmup_rounds=1
    )
    benchmark.extra_info["unknowns"] = 2 * len(made.mesh.nodes)


@pytest.mark.parametrize("depths", [1, 3, 5])
@pytest.mark.parametrize("state", ["live", "missing", "dead"])
def test_judgement(benchmark, depths, state):
    """One conical knot: every depth meshed, each knot stiffness factorised, all windows."""
    slices = []
    for number, z in enumerate(np.linspace(9e-3, -8e-3, depths)):
        radius = 6e-3 - 0.15e-3 * number
        slices.append(
            DepthSlice(
                z=float(z),
                layer=4e-3,
                strip=Strip(x=[-0.08, 0.08], right=[-0.02, -0.018], left=[0.02, 0.019]),
                wood=WOOD.elasticity,
                strength=plane_strength(WOOD),
                grain=Grain(angle=0.0, run_out=0.02),
                knots=(
                    KnotTrace(
                        name="A",
                        ellipse=Ellipse(x=0.0, y=2e-3, a=radius, b=radius),
                        state=state,
                    ),
                ),
                decays=(),
                strain=LimbStrain(x0=0.0, axial=0.5 * float(z)),
            )
        )
    problem = LocalProblem(zone="A", slices=tuple(slices), band=Band())
    outcome = benchmark.pedantic(judge_zone, args=(problem,), rounds=2, warmup_rounds=1)
    benchmark.extra_info["unknowns"] = 2 * len(outcome.fields[0].nodes)
