"""Straight boards of one wood with at most one zone, as plates."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from limbfe.api import read_case
from limbfe.case.build import build_setup
from limbfe.defect.plate.body import BodyMesh, PlateBody, mesh_body
from limbfe.defect.plate.wood import Course, PlateWood
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip
from limbfe.defect.zone import Grain
from limbfe.stave.knot import Plane
from limbfe.stave.stave import Grain as FibreCourse
from limbfe.stave.stave import Outline, Stave
from limbfe.wood.elasticity import Elasticity

ASH = Path(__file__).parents[1] / "cases" / "ash_flatbow.toml"
STRAIGHT = Grain(angle=0.0, run_out=0.0)


def isotropic(E: float = 10e9, nu: float = 0.3) -> Elasticity:
    shear = E / 2 / (1 + nu)
    return Elasticity(
        E_L=E, E_R=E, E_T=E, G_LR=shear, G_LT=shear, G_RT=shear, nu_LR=nu, nu_LT=nu, nu_RT=nu
    )


@cache
def _setup_stave() -> Stave:
    return build_setup(read_case(ASH)).stave


def board(width: float, thickness: float, half_length: float = 0.5) -> Stave:
    """The stave of a shipped case made a straight board of one wood, its wood left as it is."""
    flat = {"width": width, "thickness": thickness}
    flat |= dict.fromkeys(("sapwood", "backing", "lean", "reflex", "sideways", "twist"), 0.0)
    return replace(
        _setup_stave(),
        x=half_length * np.array([-1.0, 0.0, 1.0]),
        **{key: np.full(3, value) for key, value in flat.items()},
        outline=Outline(crown=np.inf, belly="flat", belly_corner=0.0),
        grain=FibreCourse(ring_radius=np.inf, run_out=0.0, sideways_grain=0.0, spiral=0.0),
        sapwood_wood=None,
        backing_wood=None,
        knots=(),
        decays=(),
    )


def hole_through(ellipse: Ellipse, depth: float) -> Course:
    """A hole alike at all depths, round which straight fibres are cut."""
    z = np.linspace(-depth, depth, 5)
    rows = np.array([ellipse.x, ellipse.y, ellipse.a, ellipse.b, ellipse.angle])
    return Course(
        name="A", state="missing", modulus=None, poisson=0.3, z=z,
        traces=np.tile(rows[:, None], (1, 5)), bulge=0.0, diverts=False,
    )  # fmt: skip


def meshed_board(
    stave: Stave,
    wood: Elasticity,
    *,
    length: float,
    plane: Plane = "flat",
    knots: tuple[Course, ...] = (),
    near: float = 2e-3,
) -> BodyMesh:
    """A piece of a board meshed as a plate, looked at from the back or from its side."""
    size = stave.width if plane == "flat" else stave.thickness
    half = 0.5 * float(size[0])
    strip = Strip(x=[-length / 2, length / 2], right=[-half] * 2, left=[half] * 2)
    made = PlateWood(
        stave=stave, woods=(wood,) * 3, knots=knots, decays=(), grading=0.5, grain=STRAIGHT,
        plane=plane,
    )  # fmt: skip
    body = PlateBody(strip=strip, wood=made, resultants=np.zeros(6))
    return mesh_body(body, Fineness(near=near))
