"""Plates with one zone alike at all depths, for comparison with closed forms of the plane.

Under a pull along the limb, or a moment in the plane of the plate, only the mean of the depth
moves, whatever functions of the depth the plate has: a problem of plane stress.
"""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.plane import plane_stiffness
from limbfe.defect.plate.body import BodyMesh, PlateBody, body_plate, mesh_body
from limbfe.defect.plate.layer import lay_raster, node_strains
from limbfe.defect.plate.plate import PlateAnswer, solve_plate
from limbfe.defect.plate.strain import function_strains
from limbfe.defect.plate.wood import PlateWood
from limbfe.defect.recovery import Corners, mesh_corners
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip
from limbfe.stave.decay import Decay
from limbfe.wood.elasticity import Elasticity

from ..boards import STRAIGHT, board, hole_through

DEPTH = 0.01


@dataclass(frozen=True)
class Plate:
    """A solved plate and how it moves under its load."""

    meshed: BodyMesh
    answer: PlateAnswer
    moved: np.ndarray
    loads: np.ndarray

    @property
    def wood(self) -> Elasticity:
        return self.meshed.body.wood.woods[0]

    @property
    def ellipse(self) -> Ellipse:
        x, y, a, b, angle = self.meshed.body.wood.knots[0].traces[:, 0]
        return Ellipse(x=x, y=y, a=a, b=b, angle=angle)

    def rim_stress(self) -> tuple[np.ndarray, np.ndarray]:
        """Hoop stress on a free rim and where, from the stretch of the rim's sides.

        Taken at the two Gauss points of every side, where the derivative of a quadratic
        displacement is most accurate; the rim is free, so hoop strain gives hoop stress.
        """
        sides = self.meshed.mesh.rims[0]
        xi = np.array([-1.0, 1.0]) / np.sqrt(3.0)
        shape = np.stack([0.5 * xi * (xi - 1.0), 1.0 - xi * xi, 0.5 * xi * (xi + 1.0)], axis=1)
        slope = np.stack([xi - 0.5, -2.0 * xi, xi + 0.5], axis=1)
        corner = self.meshed.mesh.mesh.nodes[sides]
        points = np.einsum("gk,skd->sgd", shape, corner)
        run = np.einsum("gk,skd->sgd", slope, corner)
        speed = np.linalg.norm(run, axis=-1)
        t = run / speed[..., None]
        move = np.einsum("gk,skd->sgd", slope, self.moved[sides, :2])
        hoop = (move * t).sum(axis=-1) / speed
        x, y = t[..., 0], t[..., 1]
        along = np.stack([x * x, y * y, x * y], axis=-1)
        compliance = np.linalg.inv(plane_stiffness(self.wood, np.array(0.0), np.array(0.0)))
        stress = hoop / np.einsum("sgi,ij,sgj->sg", along, compliance, along)
        return points.reshape(-1, 2), stress.ravel()

    def flank_stress(self) -> float:
        """Hoop stress at the rim's flank at larger y, between the Gauss points by a spline."""
        points, stress = self.rim_stress()
        knot = self.ellipse
        angle = np.arctan2((points[:, 1] - knot.y) / knot.b, (points[:, 0] - knot.x) / knot.a)
        order = np.argsort(angle)
        spline = CubicSpline(angle[order], stress[order])
        return float(spline(0.5 * np.pi))

    def corners(self) -> Corners:
        return mesh_corners(self.meshed.mesh.mesh)

    def sampled(self, step: float, low: np.ndarray, high: np.ndarray):
        """A raster over a box and the mean stress of the depth there, (w, 3), in sound wood."""
        corners = self.corners()
        raster = lay_raster(self.meshed, corners, step, low, high)
        nodal = node_strains(self.answer.plate, corners, self.moved)
        strain = (raster.interpolation @ nodal)[:, :3]
        Q = plane_stiffness(self.wood, np.array(0.0), np.array(0.0))
        return raster, strain @ Q

    def axial_on_line(self, y: np.ndarray) -> np.ndarray:
        """Axial stress at x = 0 and given y, from the recovered field."""
        at = np.stack([np.zeros_like(y), y], axis=1)
        return np.array([self.sampled(1.0, one, one)[1][0, 0] for one in at])

    def strain(self) -> np.ndarray:
        """Mean strain of the depth at the quadrature points, (m, q, 3)."""
        return function_strains(self.answer.plate, self.moved)[:, :, 0]

    def extension(self) -> float:
        """How much longer the plate becomes."""
        return float(self.answer.give[0] @ self.loads[[0, 4, 5]])


@pytest.fixture(scope="session")
def plate() -> Callable[..., Plate]:
    """Solve a straight-grained plate with one hole, inclusion or patch."""

    def make(
        *,
        wood: Elasticity,
        ellipse: Ellipse,
        half_width: float,
        half_length: float,
        near: float,
        strain: LimbStrain,
        modulus: float | None = None,
        poisson: float = 0.3,
        decay: Decay | None = None,
        offset: float = 0.0,
        growth: float = 0.3,
    ) -> Plate:
        strip = Strip(
            x=[-half_length, half_length],
            right=[offset - half_width] * 2,
            left=[offset + half_width] * 2,
        )
        knot = replace(
            hole_through(ellipse, DEPTH),
            state="missing" if modulus is None else "live",
            poisson=poisson,
        )
        made = PlateWood(
            stave=board(2.0 * (half_width + abs(offset)), DEPTH, half_length),
            woods=(wood,) * 3,
            knots=() if decay is not None else (knot,),
            decays=() if decay is None else (decay,),
            grading=0.0,
            grain=STRAIGHT,
        )
        area, inertia = 2.0 * half_width * DEPTH, DEPTH * (2.0 * half_width) ** 3 / 12.0
        force = area * (strain.axial - strain.bending * offset)
        bent = -strain.axial * offset * area + strain.bending * (inertia + offset**2 * area)
        loads = wood.E_L * np.array([force, 0.0, 0.0, 0.0, 0.0, bent])
        body = PlateBody(strip=strip, wood=made, resultants=loads)
        meshed = mesh_body(body, Fineness(near=near, growth=growth, around=8))
        solved = solve_plate(body_plate(meshed, () if decay else (modulus,), "quick"))
        return Plate(meshed=meshed, answer=solved, moved=solved.displacement @ loads, loads=loads)

    return make


@pytest.fixture(scope="session")
def zones() -> ModuleType:
    """The zones that the tests of the failure floor use, loaded by path."""
    name = "limbfe_tests_failure_zones"
    if name not in sys.modules:
        place = Path(__file__).parents[1] / "failure" / "zones.py"
        spec = importlib.util.spec_from_file_location(name, place)
        assert spec is not None
        assert spec.loader is not None
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]
