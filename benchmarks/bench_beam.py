"""The 1.8 m bow braced and drawn: ours beside OpenSeesPy, ensembles, cost against elements.

Run with ``pytest benchmarks/bench_beam.py``; the peer is left out where it does not import.  The
peer's model is the same limb in its plane: half of the symmetric bow, co-rotational elements with
section stiffness at two integration points, string as a co-rotational truss of given length,
bent (10 steps), released onto the string (10) and drawn (30).  It is two-dimensional and does half
the bow with hand-chosen steps; ours is three-dimensional, does both limbs, finds the string's
length from the brace height and judges stability at every step.
"""

from __future__ import annotations

import importlib

import numpy as np
import pytest

from limbfe.beam import Bow, BowString, Chain, Hold, brace, draw, draw_ensemble, gauss_positions
from limbfe.frames import SECTION_IN_GLOBAL

E, EA, HEIGHT, DRAW, STEPS = 10e9, 100e3, 0.150, 0.700, 30


def sizes(share: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return 0.030 - 0.020 * share, 0.024 - 0.012 * share


def bow_1800(elements: int) -> Bow:
    x = np.linspace(0.05, 0.9, elements + 1)
    x = np.concatenate([-x[::-1], x])
    b, h = sizes(np.clip((np.abs(gauss_positions(x)) - 0.05) / 0.85, 0.0, 1.0))
    stiffness = np.zeros((len(x) - 1, 2, 6, 6))
    rows = [b * h, 1e3 * b * h, 1e3 * b * h, b * h**3 / 20, b * h**3 / 12, b**3 * h / 12]
    for i, value in enumerate(rows):
        stiffness[..., i, i] = E * value
    zero = np.zeros(3)
    return Bow(
        chain=Chain(
            positions=np.column_stack([0 * x, 0 * x, x]),
            rotations=np.broadcast_to(SECTION_IN_GLOBAL, (len(x), 3, 3)),
            stiffness=stiffness,
            mass=stiffness,
        ),
        clamped=(elements, elements + 1),
        string=BowString(stiffness=EA, mass=0.0, nock_lower=zero, nock_upper=zero),
        hold=Hold(kind="clamp", point=zero),
        grip_belly=zero,
        grip_back=zero,
        arrow_z=0.0,
    )


def brace_and_draw(bow: Bow) -> float:
    lengths = np.linspace(HEIGHT, DRAW, STEPS + 1)[1:]
    return float(draw(bow, brace(bow, height=HEIGHT), lengths).force[-1])


@pytest.mark.parametrize("elements", [10, 20, 40])
def test_brace_and_thirty_steps(benchmark, elements: int):
    bow = bow_1800(elements)
    force = benchmark(brace_and_draw, bow)
    assert force == pytest.approx(274.656, rel=1e-5)


@pytest.mark.parametrize("count", [100, 1000])
def test_ensemble_of_random_stiffness(benchmark, count: int):
    bow = bow_1800(20)
    factor = np.exp(0.2 * np.random.default_rng(0).normal(size=(count, 41, 2)))
    stiffness = bow.chain.stiffness * factor[..., None, None]
    found = benchmark.pedantic(
        draw_ensemble, (bow, stiffness), {"height": HEIGHT, "draw_length": DRAW}, rounds=2
    )
    assert found.converged.all()


def peer_bent(ops, elements: int, bend: float) -> None:
    """Half the bow in its plane, bent by a dead tip load until the tip has moved by `bend`."""
    ops.wipe()
    ops.model("basic", "-ndm", 2, "-ndf", 3)
    x = np.linspace(0.05, 0.9, elements + 1)
    for i, z in enumerate(x):
        ops.node(i + 1, 0.0, float(z))
    ops.fix(1, 1, 1, 1)
    ops.geomTransf("Corotational", 1)
    shares = (gauss_positions(x) - 0.05) / 0.85
    for i, pair in enumerate(shares):
        for g, share in enumerate(pair):
            b, h = (float(v) for v in sizes(share))
            ops.section("Elastic", 2 * i + g + 1, E, b * h, b * h**3 / 12.0)
        at = [0.5 - 0.5 / 3**0.5, 0.5 + 0.5 / 3**0.5]
        tags = [2 * i + 1, 2 * i + 2]
        ops.beamIntegration("UserDefined", i + 1, 2, *tags, *at, 0.5, 0.5)
        ops.element("dispBeamColumn", i + 1, i + 1, i + 2, 1, i + 1)
    ops.constraints("Transformation")
    ops.numberer("Plain")
    ops.system("BandGeneral")
    ops.test("NormUnbalance", 1e-6, 50)
    ops.algorithm("Newton")
    ops.timeSeries("Linear", 1)
    ops.pattern("Plain", 1, 1)
    ops.load(elements + 1, 1.0, 0.0, 0.0)
    ops.integrator("DisplacementControl", elements + 1, 1, bend / 10)
    ops.analysis("Static")
    assert ops.analyze(10) == 0


def peer_force(ops, elements: int, half_string: float) -> float:
    """Hook the half string on, let the tip load go, draw to full length in 30 steps."""
    peer_bent(ops, elements, 0.16)
    tip, point = elements + 1, elements + 2
    x, z = ops.nodeDisp(tip, 1), 0.9 + ops.nodeDisp(tip, 2)
    taut = x + max(half_string**2 - z**2, 0.0) ** 0.5
    ops.node(point, float(taut), 0.0)
    ops.fix(point, 0, 1, 1)
    nominal = (taut**2 + 0.9**2) ** 0.5
    ops.uniaxialMaterial("Elastic", 98, EA * nominal / half_string)
    ops.uniaxialMaterial("InitStrainMaterial", 99, 98, (nominal - half_string) / nominal)
    ops.element("corotTruss", point, tip, point, 1.0, 99)
    load = ops.getTime()
    ops.loadConst("-time", 0.0)
    ops.timeSeries("Linear", 2)
    ops.pattern("Plain", 2, 2)
    ops.load(tip, -load, 0.0, 0.0)
    ops.pattern("Plain", 4, 2)
    ops.sp(point, 1, 0.0)
    ops.integrator("LoadControl", 0.1)
    assert ops.analyze(10) == 0
    ops.loadConst("-time", 0.0)
    ops.reactions()
    held = ops.nodeReaction(point, 1)
    ops.remove("loadPattern", 4)
    ops.timeSeries("Linear", 3)
    ops.pattern("Plain", 3, 3)
    ops.load(point, 1.0, 0.0, 0.0)
    ops.setTime(held)
    ops.integrator("DisplacementControl", point, 1, (DRAW - taut) / STEPS)
    assert ops.analyze(STEPS) == 0
    return 2.0 * ops.getTime()


@pytest.mark.parametrize("elements", [20])
def test_peer_in_its_plane(benchmark, elements: int):
    try:
        ops = importlib.import_module("openseespy.opensees")
    except (ImportError, RuntimeError) as error:
        pytest.skip(f"the peer does not import: {error}")
    bow = bow_1800(elements)
    half_string = 0.5 * float(brace(bow, height=HEIGHT).string_lengths.sum())
    force = benchmark(peer_force, ops, elements, half_string)
    assert force == pytest.approx(274.656, rel=2e-3)
