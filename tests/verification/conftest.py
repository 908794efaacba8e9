"""Plates with one zone, for comparison with closed forms."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from limbfe.defect.limb_state import LimbStrain, limb_strain, limb_stress
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip
from limbfe.defect.strip_solve import StripSolution, factor_strip, solve_strip
from limbfe.defect.submodel import build_model
from limbfe.defect.zone import DecayTrace, Grain, KnotTrace
from limbfe.wood.elasticity import Elasticity


@dataclass(frozen=True)
class Plate:
    """A solved plate and the strain it was given."""

    solution: StripSolution
    strain: LimbStrain

    def rim_stress(self) -> tuple[np.ndarray, np.ndarray]:
        """Hoop stress on a free rim and where, from the stretch of the rim's sides.

        Taken at the two Gauss points of every side, where the derivative of a quadratic
        displacement is most accurate; the rim is free, so hoop strain gives hoop stress.
        """
        model = self.solution.model
        sides = model.mesh.rims[0]
        xi = np.array([-1.0, 1.0]) / np.sqrt(3.0)
        shape = np.stack([0.5 * xi * (xi - 1.0), 1.0 - xi * xi, 0.5 * xi * (xi + 1.0)], axis=1)
        slope = np.stack([xi - 0.5, -2.0 * xi, xi + 0.5], axis=1)
        corner = model.mesh.mesh.nodes[sides]
        points = np.einsum("gk,skd->sgd", shape, corner)
        run = np.einsum("gk,skd->sgd", slope, corner)
        speed = np.linalg.norm(run, axis=-1)
        t = run / speed[..., None]
        move = np.einsum("gk,skd->sgd", slope, self.solution.departure[sides])
        own = limb_stress(model.strip, model.wood, model.grain, self.strain, points)
        e = limb_strain(model.wood, model.grain, own)
        x, y = t[..., 0], t[..., 1]
        hoop = (move * t).sum(axis=-1) / speed
        hoop += x * x * e[..., 0] + y * y * e[..., 1] + x * y * e[..., 2]
        along = np.stack([x * x, y * y, x * y], axis=-1)
        compliance = np.linalg.inv(model.stiffness[model.inside < 0][0, 0])
        stress = hoop / np.einsum("sgi,ij,sgj->sg", along, compliance, along)
        return points.reshape(-1, 2), stress.ravel()

    def flank_stress(self) -> float:
        """Hoop stress at the rim's flank at larger y, between the Gauss points by a spline."""
        points, stress = self.rim_stress()
        knot = self.solution.model.knots[0].ellipse
        angle = np.arctan2((points[:, 1] - knot.y) / knot.b, (points[:, 0] - knot.x) / knot.a)
        order = np.argsort(angle)
        spline = CubicSpline(angle[order], stress[order])
        return float(spline(0.5 * np.pi))

    def axial_on_line(self, y: np.ndarray) -> np.ndarray:
        """Axial stress at x = 0 and given y, from the recovered field."""
        from limbfe.defect.recovery import corners_of, sample_wood, sampled_stress

        model = self.solution.model
        corners = corners_of(model)
        out = []
        for level in y:
            at = np.array([0.0, level])
            one = sample_wood(model, corners, 1.0, at, at)
            out.append(sampled_stress(one, self.solution, corners, self.strain)[0, 0])
        return np.array(out)


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
        decay: DecayTrace | None = None,
        offset: float = 0.0,
        growth: float = 0.3,
    ) -> Plate:
        strip = Strip(
            x=[-half_length, half_length],
            right=[offset - half_width] * 2,
            left=[offset + half_width] * 2,
        )
        knots = (
            KnotTrace(
                name="hole",
                ellipse=ellipse,
                state="missing" if modulus is None else "live",
                poisson=poisson,
                diverts=False,
            ),
        )
        model = build_model(
            strip=strip,
            wood=wood,
            grain=Grain(angle=0.0, run_out=0.0),
            knots=() if decay is not None else knots,
            decays=(decay,) if decay is not None else (),
            fineness=Fineness(near=near, growth=growth, around=8),
        )
        moduli = () if decay is not None else (modulus or 1.0,)
        system = factor_strip(model, moduli=moduli, ends="force")
        return Plate(solution=solve_strip(system, strain), strain=strain)

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
