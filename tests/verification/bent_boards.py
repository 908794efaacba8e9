"""A board bent flatwise with one knot through it, its load over that of the clear board."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.optimize import brentq

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.plate.body import PlateBody, body_plate, mesh_body
from limbfe.defect.plate.plate import solve_plate
from limbfe.defect.plate.wood import Course, PlateWood
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip
from limbfe.defect.zone import Grain, KnotTrace
from limbfe.failure.local import judge_zone
from limbfe.failure.problem import Band, DepthLayer, LimbStrength, LocalOutcome, LocalProblem
from limbfe.failure.windows import PlaneStrength
from limbfe.wood.bar import bent_bar
from limbfe.wood.belly import BellyLaw, plateau_stress
from limbfe.wood.elasticity import Elasticity
from limbfe.wood.weakest_link import SHAPE

from ..boards import board as straight_board

CASE = Path(__file__).parents[2] / "cases" / "ash_flatbow.toml"
LIMIT = 0.8
"""Proportional limit over crushing strength, softwoods, ANC-18."""
DEEP = 2e-3
LOADED = 0.6
"""Of the tension strength: the back at the load that is judged."""


@dataclass(frozen=True, kw_only=True)
class Board:
    """A clear board: its size, wood, and where it breaks."""

    width: float
    depth: float
    span: float
    wood: Elasticity
    strength: PlaneStrength
    law: BellyLaw


def make_board(
    size: tuple[float, float, float],
    wood: Elasticity,
    strength: PlaneStrength,
    bending: float,
    crushing: float,
) -> Board:
    """A board of a wood whose clear piece breaks at a bending strength (Pa) by the belly's law."""
    law = BellyLaw(
        modulus=np.array(wood.E_L),
        crushing=np.array(crushing),
        limit=np.array(LIMIT * crushing),
        plateau=np.array(plateau_stress(crushing, bending)),
    )
    tension = brentq(
        lambda t: float(bent_bar(law, t).strength) - bending, 0.8 * bending, 2.2 * bending
    )
    width, depth, span = size
    # middle load, elastic: the stretched volume of this very board stands behind its strength
    volume = width * (span / (SHAPE + 1)) * (0.5 * depth / (SHAPE + 1))
    return Board(
        width=width, depth=depth, span=span, wood=wood, law=law,
        strength=replace(strength, tension=tension, volume=volume, compression=crushing),
    )  # fmt: skip


def problem_of(board: Board, share: float, across: float = 0.0, **knot) -> LocalProblem:
    """The middle of the board with a knot of `share` of its width, under 0.6 of its tension."""
    radius, half = 0.5 * share * board.width, 1.5 * board.width + share * board.width
    ellipse = Ellipse(x=0.0, y=across, a=radius, b=radius)
    trace = KnotTrace(**{"name": "A", "ellipse": ellipse, "state": "live", **knot})
    z = np.linspace(-board.depth, board.depth, 9)
    rows = np.array([0.0, across, radius, radius, 0.0])
    course = Course(
        name="A", state=trace.state, modulus=trace.modulus, poisson=trace.poisson, z=z,
        traces=np.tile(rows[:, None], (1, len(z))), bulge=0.0, diverts=trace.diverts,
    )  # fmt: skip
    strip = Strip(x=[-half, half], right=[-0.5 * board.width] * 2, left=[0.5 * board.width] * 2)
    straight = Grain(angle=0.0, run_out=0.0)
    wood = PlateWood(
        stave=straight_board(board.width, board.depth, 1.0), woods=(board.wood,) * 3,
        knots=(course,), decays=(), grading=0.5,
        grain=straight,
    )  # fmt: skip
    back = LOADED * board.strength.tension
    bent = back / board.wood.E_L / (0.5 * board.depth)
    moment = board.wood.E_L * board.width * board.depth**3 / 12.0 * bent
    deep = DEEP / board.depth
    layers = tuple(
        DepthLayer(
            z=(middle - 0.5) * board.depth,
            layer=board.depth / 5.0,
            strip=strip,
            wood=board.wood,
            strength=board.strength,
            grain=straight,
            knots=(trace,),
            decays=(),
            strain=LimbStrain(x0=0.0, axial=(middle - 0.5) * board.depth * bent),
            focus=ellipse,
            span=(middle - 0.5 * deep, middle + 0.5 * deep),
        )
        for middle in np.linspace(1.0 - 0.5 * deep, 0.5 * deep, 5)
    )
    loads = np.array([0.0, 0.0, 0.0, 0.0, moment, 0.0])
    return LocalProblem(
        zone="A", layers=layers, band=Band(), rough=True,
        body=PlateBody(strip=strip, wood=wood, resultants=loads),
        limb=LimbStrength(used=LOADED, back=back, law=board.law, depth=board.depth),
    )  # fmt: skip


def judged(board: Board, share: float, **knot) -> LocalOutcome:
    """The judgement of a knot of `share` of the width in the middle of the board."""
    return judge_zone(problem_of(board, share, **knot))


def stiffness_ratio(board: Board, share: float, modulus: float) -> float:
    """Stiffness under a middle load with a live knot there over that of the clear board."""
    body = problem_of(board, share).body
    near = share * board.width / 12.0
    meshed = mesh_body(body, Fineness(near=near, growth=0.3))
    turn = solve_plate(body_plate(meshed, (modulus,), "full")).give[1, 1]
    flat = board.wood.E_L * board.width * board.depth**3 / 12.0
    extra = flat * turn - np.ptp(body.strip.x)
    return float(1.0 / (1.0 + 3.0 * extra / board.span))
