"""The shot of half a symmetric bow in its plane by OpenSeesPy, and the bow that is compared.

Their limb is a chain of elastic elements without shear in a co-rotational frame, with consistent
masses; their string is a row of co-rotational bars; the time goes on by Newmark's rule of constant
acceleration.  The drawn state is found by OpenSees itself: the nock is led to where it roughly is,
then let free while the nocking point is held at the draw length.

F. McKenna, OpenSees: a framework for earthquake engineering simulation, Comput. Sci. Eng. 13 (2011)
58-66 (from memory).
"""

from __future__ import annotations

import importlib
import subprocess
import sys
from typing import Any, NamedTuple

import numpy as np

from limbfe.beam import Bow
from limbfe.beam.equilibrium.state import BowState

from .march import full_draw, small_bow

ARROW = 0.028
SEGMENTS = 8
LOAD = """
import ctypes, importlib.util, pathlib
found = importlib.util.find_spec("openseespylinux")
for name in ("libquadmath.so.0", "libgfortran.so.4", "libblas.so.3", "liblapack.so.3"):
    own = pathlib.Path(found.submodule_search_locations[0], "lib", name) if found else None
    if own is not None and own.exists():
        ctypes.CDLL(str(own), mode=ctypes.RTLD_GLOBAL)
import openseespy.opensees
"""
"""The wheel brings libraries along that it does not find by itself where the system has none."""


def opensees() -> Any:
    """Import OpenSeesPy, None where it does not import.

    In a process of its own first: a wheel without its libraries kills the process.
    """
    if subprocess.run([sys.executable, "-c", LOAD], check=False, capture_output=True).returncode:
        return None
    exec(LOAD, {})
    return importlib.import_module("openseespy.opensees")


def stiff_in_shear(elements: int) -> tuple[Bow, BowState]:
    """The small bow with hardly any shear, drawn."""
    bow = small_bow(elements, shear_ratio=0.02)
    return bow, full_draw(bow)[1]


class PeerShot(NamedTuple):
    """Draw force (N), speed of the arrow (m/s) and time at its greatest (s)."""

    force: float
    speed: float
    time: float


def peer_shot(ops: Any, bow: Bow, full: BowState, step: float, longest: float) -> PeerShot:
    """Draw and shoot the upper half of a bow; `full` says where to look and how far to draw."""
    elements = len(bow.chain.positions) // 2 - 1
    tip, point = elements + 1, 100 + SEGMENTS
    upper = slice(elements + 1, None)
    z = bow.chain.positions[upper, 2]
    stiffness = np.asarray(bow.chain.stiffness)[upper].mean(axis=1)
    mass = np.asarray(bow.chain.mass)[upper].mean(axis=1)
    ops.wipe()
    ops.model("basic", "-ndm", 2, "-ndf", 3)
    for i, height in enumerate(z):
        ops.node(i + 1, 0.0, float(height))
    ops.fix(1, 1, 1, 1)
    ops.geomTransf("Corotational", 1)
    for e in range(elements):
        area, inertia = stiffness[e, 0, 0], stiffness[e, 4, 4]
        ops.element(
            "elasticBeamColumn", e + 1, e + 1, e + 2, area, 1.0, inertia, 1,
            "-mass", mass[e, 0, 0], "-cMass",
        )  # fmt: skip
    rest, share = float(full.string_lengths[1]), np.arange(1, SEGMENTS + 1) / SEGMENTS
    hang = z[-1] - rest * share
    for k, height in enumerate(hang):
        ops.node(101 + k, 0.0, float(height))
        ops.fix(101 + k, 0, 0, 1)
    ops.uniaxialMaterial("Elastic", 1, float(bow.string.stiffness))
    density = bow.string.mass / (2.0 * rest)
    for k in range(SEGMENTS):
        start = tip if k == 0 else 100 + k
        ops.element("corotTruss", 1000 + k, start, 101 + k, 1.0, 1, "-rho", density, "-cMass", 1)
    ops.mass(point, ARROW / 2.0, ARROW / 2.0, 0.0)
    nock, nocking = full.string_points[2][[0, 2]], full.string_points[1][[0, 2]]
    ops.timeSeries("Linear", 1)
    ops.pattern("Plain", 1, 1)
    _hold(ops, tip, nock - [0.0, z[-1]])
    for k in range(SEGMENTS):
        _hold(ops, 101 + k, nock + (nocking - nock) * share[k] - [0.0, hang[k]])
    _begin(ops)
    ops.integrator("LoadControl", 0.02)
    ops.analysis("Static")
    assert ops.analyze(50) == 0
    _release(ops, 1)
    ops.timeSeries("Constant", 2)
    ops.pattern("Plain", 2, 2)
    _hold(ops, point, nocking - [0.0, hang[-1]])
    _begin(ops)
    ops.integrator("LoadControl", 1.0)
    ops.analysis("Static")
    assert ops.analyze(1) == 0
    ops.reactions()
    force = 2.0 * float(ops.nodeReaction(point)[0])
    _release(ops, 2)
    ops.timeSeries("Constant", 3)
    ops.pattern("Plain", 3, 3)
    ops.sp(point, 2, float(nocking[1] - hang[-1]))
    _begin(ops)
    ops.integrator("Newmark", 0.5, 0.25)
    ops.analysis("Transient")
    speeds = [0.0]
    for _ in range(round(longest / step)):
        assert ops.analyze(1, step) == 0
        speeds.append(-float(ops.nodeVel(point, 1)))
    best = int(np.argmax(speeds))
    return PeerShot(force, speeds[best], best * step)


def _hold(ops: Any, node: int, moved: np.ndarray) -> None:
    ops.sp(node, 1, float(moved[0]))
    ops.sp(node, 2, float(moved[1]))


def _release(ops: Any, pattern: int) -> None:
    ops.wipeAnalysis()
    ops.remove("loadPattern", pattern)
    ops.setTime(0.0)


def _begin(ops: Any) -> None:
    ops.constraints("Transformation")
    ops.numberer("RCM")
    ops.system("UmfPack")
    ops.test("NormDispIncr", 1e-10, 50)
    ops.algorithm("Newton")
