"""One knot or patch in a straight strip, for tests of the judgement."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.plane import plane_stiffness
from limbfe.defect.plate.body import PlateBody
from limbfe.defect.plate.wood import Course, PlateWood
from limbfe.defect.strip import Ellipse, Strip, edge
from limbfe.defect.zone import DecayTrace, Grain, KnotTrace
from limbfe.failure.problem import Band, DepthLayer, LocalProblem
from limbfe.failure.windows import PlaneStrength
from limbfe.stave.decay import Decay
from limbfe.stave.zone_label import ZoneLabel
from limbfe.wood.decay import DecayEffect
from limbfe.wood.elasticity import Elasticity
from tests.boards import board, hole_through

WOOD = Elasticity(
    E_L=10.0e9,
    E_R=1.0e9,
    E_T=0.7e9,
    G_LR=0.8e9,
    G_LT=0.7e9,
    G_RT=0.1e9,
    nu_LR=0.35,
    nu_LT=0.35,
    nu_RT=0.4,
)
STRENGTH = PlaneStrength(
    tension=120e6,
    compression=50e6,
    shear=13e6,
    tension_across=6.5e6,
    toughness_fibre=10e3,
    toughness_opening=350.0,
    toughness_sliding=1000.0,
    volume=2e-6,
    across_grain=9e6,
)
"""The wood for which the window lengths and the mesh test are known."""


THICK, DEEP = 20e-3, 2e-3
"""Of the board, and of the layers that are judged."""


def knot(diameter: float = 12e-3, y: float = 0.0, **more: Any) -> KnotTrace:
    size = {"a": 0.5 * diameter, "b": 0.5 * diameter}
    given = {"name": "A", "state": "live", **more}
    return KnotTrace(ellipse=Ellipse(x=0.0, y=y, **size), **given)


def patch(a: float, b: float, y: float = 0.0, **more: Any) -> DecayTrace:
    """Moderate brown rot after the multipliers that Witomski's laws give at 10 % loss."""
    left = {
        "E": 0.75,
        "G": 0.75,
        "tension": 0.37,
        "compression": 0.75,
        "shear": 0.5,
        "across": 0.5,
        "toughness": 0.1,
    }
    given = {"name": ZoneLabel("decay", "A"), "grading": 0.3, **left, **more}
    return DecayTrace(ellipse=Ellipse(x=0.0, y=y, a=a, b=b), **given)


def piece(
    *,
    width: float = 40e-3,
    half_length: float = 80e-3,
    knots: tuple[KnotTrace, ...] = (),
    decays: tuple[DecayTrace, ...] = (),
    strain: LimbStrain | None = None,
    grain: Grain | None = None,
    z: float = 9e-3,
    strength: PlaneStrength = STRENGTH,
) -> DepthLayer:
    ends, share = [-half_length, half_length], 0.5 + z / THICK
    return DepthLayer(
        z=z,
        layer=4e-3,
        strip=Strip(x=ends, right=[-0.5 * width] * 2, left=[0.5 * width] * 2),
        wood=WOOD,
        strength=strength,
        grain=grain or Grain(angle=0.0, run_out=0.0),
        knots=knots,
        decays=decays,
        strain=strain or LimbStrain(x0=0.0, axial=4e-3),
        span=(share - 0.5 * DEEP / THICK, share + 0.5 * DEEP / THICK),
    )


def problem(*layers: DepthLayer, **more: Any) -> LocalProblem:
    given = {"band": Band(), "body": body(layers[0]), **more}
    zone = layers[0].decays[0].name if layers[0].decays else "A"
    return LocalProblem(zone=zone, layers=layers, **given)


def body(piece: DepthLayer) -> PlateBody:
    """A board with the zones of a layer alike at all depths, under that layer's strain.

    What changes along the limb in the layer's own plane is the moment and its shear force alone.
    """
    strip, strain = piece.strip, piece.strain
    middle = 0.5 * (strip.x[0] + strip.x[-1])
    right, left = (float(edge(strip, side, np.array([middle]))[0]) for side in ("right", "left"))
    width, aside = left - right, 0.5 * (left + right)
    wood = PlateWood(
        stave=board(2.0 * float(np.abs([strip.right, strip.left]).max()), THICK),
        woods=(piece.wood,) * 3,
        knots=tuple(_course(one) for one in piece.knots),
        decays=tuple(_decay(one) for one in piece.decays),
        grading=piece.decays[0].grading if piece.decays else 0.0,
        grain=piece.grain,
    )
    Q = plane_stiffness(piece.wood, np.array(piece.grain.angle), np.array(piece.grain.run_out))
    E = 1.0 / np.linalg.inv(Q)[0, 0]
    area, inertia = width * THICK, THICK * width**3 / 12.0
    bent = strain.bending + strain.bending_slope * (middle - strain.x0)
    axial = strain.axial + strain.axial_slope * (middle - strain.x0) - aside * bent
    force = E * area * axial
    moment = E * inertia * bent - force * aside
    shear = -E * inertia * strain.bending_slope
    return PlateBody(
        strip=strip, wood=wood, resultants=np.array([force, shear, 0.0, 0.0, 0.0, moment])
    )


def _course(knot: KnotTrace) -> Course:
    radius = min(knot.ellipse.a, knot.ellipse.b)
    return replace(
        hole_through(knot.ellipse, THICK),
        name=knot.name,
        state=knot.state,
        modulus=knot.modulus,
        poisson=knot.poisson,
        bulge=knot.bulge_height / radius,
        diverts=knot.diverts,
        lying=knot.lying,
    )


def _decay(patch: DecayTrace) -> Decay:
    names = ("E", "G", "tension", "compression", "shear", "across", "toughness")
    e = patch.ellipse
    return Decay(
        name="A",
        limb="upper",
        face="back",
        center=np.array([e.x, e.y, 0.0]),
        semi_axes=np.array([e.a, e.b, 1e3]),
        effect=DecayEffect(density=1.0, **{name: getattr(patch, name) for name in names}),
        stage="given",
        rot="given",
    )
