"""A yielding bow by another library: OpenSeesPy, fibre sections in a co-rotational frame.

One limb of a symmetric straight bow of rectangular section, bending in its plane.  OpenSees is led
along the nock's path and asked for the force that takes, which must be the string's.  Nothing is
shared but the path: their limb is a chain of force-based elements of layered fibres (elastic in
tension, plastic in compression: `ElasticPP` with one limit out of reach), ours has
two-dimensional sections in geometrically exact elements.

F. McKenna, OpenSees: a framework for earthquake engineering simulation, Comput. Sci. Eng. 13 (2011)
58-66 (from memory).
"""

import numpy as np
import pytest

from limbfe.analysis.bow.solve import solve_bow
from limbfe.api import read_case
from limbfe.beam import brace
from limbfe.case.build import build_setup
from limbfe.stave.profile import shape_at
from limbfe.wood.belly import BellyLaw, yield_points

from ...beam.shot.peer import opensees as loaded_opensees
from ...repeated_draws import repeated_draws

CASE = """
title = "Straight bow of even wood"
[wood.whole]
species = "European ash"
moisture = 12
E_L = "12 GPa"
compression_strength = "50 MPa"
compression_proportional_limit = "{limit} MPa"
compression_plateau = "50 MPa"
[section]
back = "flat"
belly = "flat"
[limb.both]
unit = "mm"
station = [0, 70, 150, 400, 650, 860]
width = [40, 40, 42, 38, 28, 16]
thickness = [20, 17, 15, 14, 12.5, 10.5]
[grip]
stiff_length = "100 mm"
hold = "clamp"
[string]
brace_height = "150 mm"
stiffness = "60 kN"
[draw]
length = "27 in"
steps = 16
[analysis]
elements_per_limb = 40
fineness = 1
"""


def opensees():
    """OpenSeesPy, or a skipped test."""
    return loaded_opensees() or pytest.skip("OpenSeesPy does not import here")


def nock(state):
    """The upper nock in the plane of the bow (towards the archer, up), and the string's pull."""
    end = state.string_points[2]
    pull = state.string_points[1] - end
    force = state.string_tension[1] * pull / np.linalg.norm(pull)
    return end[[0, 2]], force[[0, 2]]


def give_way(ops, wood):
    """Make material 1: plastic parts beside each other, each for one bend of the belly's law."""
    s, E = wood.strength, wood.elasticity.E_L
    law = BellyLaw(
        modulus=E,
        crushing=s.compression,
        limit=s.compression_proportional_limit,
        plateau=s.compression_plateau,
    )
    stress, plastic = yield_points(law)
    strain = stress / E + plastic
    slopes = [E, *(np.diff(stress) / np.diff(strain)), 0.0]
    parts = [
        (before - after, at)
        for before, after, at in zip(slopes[:-1], slopes[1:], strain, strict=True)
        if before - after > 1e-9 * E
    ]
    for k, (stiffness, at) in enumerate(parts):
        ops.uniaxialMaterial("ElasticPP", 1000 + k, stiffness, 1.0, -at)
    ops.uniaxialMaterial("Parallel", 1, *(1000 + k for k in range(len(parts))))


class Limb:
    """The upper limb as a cantilever from the edge of the grip."""

    def __init__(self, ops, model, elements=50, layers=60):
        wood = model.setup.stave.heartwood
        start = model.setup.stave.stiff_length / 2
        self.ops = ops
        ops.wipe()
        ops.model("basic", "-ndm", 2, "-ndf", 3)
        x = np.linspace(start, model.node_x[-1], elements + 1)
        rest = 0.5 * shape_at(model.setup.stave, [0.0]).thickness[0]
        thickness = shape_at(model.setup.stave, x).thickness
        for k, (at, thick) in enumerate(zip(x, thickness, strict=True)):
            ops.node(k, float(thick / 2 - rest), float(at))
        ops.fix(0, 1, 1, 1)
        give_way(ops, wood)
        ops.geomTransf("Corotational", 1)
        points, _ = np.polynomial.legendre.leggauss(2)
        shear = 5 / 6 * wood.elasticity.G_LR
        tag = 2000
        for k in range(elements):
            own = []
            for at in x[k] + (points + 1) / 2 * (x[k + 1] - x[k]):
                tag += 2
                shape = shape_at(model.setup.stave, [float(at)])
                b, h = float(shape.width[0]), float(shape.thickness[0])
                ops.section("Fiber", tag)
                ops.patch("rect", 1, layers, 1, -h / 2, -b / 2, h / 2, b / 2)
                ops.uniaxialMaterial("Elastic", 10 + tag, shear * b * h)
                ops.section("Aggregator", tag + 1, 10 + tag, "Vy", "-section", tag)
                own.append(tag + 1)
            ops.beamIntegration("UserDefined", k, 2, *own, *((points + 1) / 2).tolist(), 0.5, 0.5)
            ops.element("forceBeamColumn", k, k, k + 1, 1, k, "-iter", 60, 1e-12)
        self.tip, self.rest = elements, np.array(ops.nodeCoord(elements))
        ops.system("BandGeneral")
        ops.numberer("RCM")
        ops.constraints("Transformation")
        ops.test("NormDispIncr", 1e-10, 60)
        ops.algorithm("Newton")
        ops.integrator("LoadControl", 1.0)
        ops.analysis("Static")
        self.pattern = 0

    def lead(self, place, steps):
        """Lead the nock to a place in some steps; return the force that holds it there."""
        now = np.array(self.ops.nodeDisp(self.tip)[:2])
        for share in np.linspace(0.0, 1.0, steps + 1)[1:]:
            if self.pattern:
                self.ops.remove("loadPattern", self.pattern)
            self.pattern += 1
            self.ops.timeSeries("Constant", self.pattern)
            self.ops.pattern("Plain", self.pattern, self.pattern)
            goal = now + share * (place - self.rest - now)
            for dof in range(2):
                self.ops.sp(self.tip, dof + 1, float(goal[dof]))
            assert self.ops.analyze(1) == 0, f"OpenSees stopped on the way to {goal}"
        self.ops.reactions()
        return np.array(self.ops.nodeReaction(self.tip)[:2])


@pytest.mark.slow
@pytest.mark.parametrize("limit", [50, 37.5])
def test_yielding_bow_of_another_library(tmp_path, limit):
    """Force on the nock through the first draw, let down, and in the second draw.

    With a belly flat at its crushing strength, and with one that rises to it from its proportional
    limit by the law of `limbfe.wood.belly`.  The fall past the crushing strength is left out: no
    material of theirs has it on one side only.  Within 0.5 per cent of the largest.
    """
    ops = opensees()
    path = tmp_path / "bow.toml"
    path.write_text(CASE.format(limit=limit), encoding="utf-8")
    solved = solve_bow(build_setup(read_case(path)), beyond=False)
    first, second = repeated_draws(solved, 2)
    assert first.set_at_tips.mean() > 0.01
    limb = Limb(ops, solved.model)
    for height in (0.02, 0.05, 0.08, 0.11, 0.14):
        limb.lead(nock(brace(solved.model.bow, height=height))[0], 4)
    largest = np.linalg.norm(nock(first.states[-1])[1])
    # down it goes along the way of the second draw: the straight way would crush it
    way = (first.braced, *first.states, *second.states[-2::-1], second.braced, *second.states)
    for state in way:
        place, force = nock(state)
        found = limb.lead(place, 3)
        assert np.linalg.norm(found - force) < 5e-3 * largest
