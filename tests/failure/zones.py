"""One knot or patch in a straight strip, for tests of the judgement."""

from __future__ import annotations

from typing import Any

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.strip import Ellipse, Strip
from limbfe.defect.zone import DecayTrace, Grain, KnotTrace
from limbfe.failure.problem import Band, DepthSlice, LocalProblem
from limbfe.failure.windows import PlaneStrength
from limbfe.wood.elasticity import Elasticity

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
)
"""The wood for which the window lengths and the mesh test are known."""


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
    given = {"name": "A", "grading": 0.3, **left, **more}
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
) -> DepthSlice:
    ends = [-half_length, half_length]
    return DepthSlice(
        z=z,
        layer=4e-3,
        strip=Strip(x=ends, right=[-0.5 * width] * 2, left=[0.5 * width] * 2),
        wood=WOOD,
        strength=strength,
        grain=grain or Grain(angle=0.0, run_out=0.0),
        knots=knots,
        decays=decays,
        strain=strain or LimbStrain(x0=0.0, axial=4e-3),
    )


def problem(*slices: DepthSlice, **more: Any) -> LocalProblem:
    return LocalProblem(zone="A", slices=slices, band=more.pop("band", Band()), **more)
