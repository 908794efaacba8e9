"""One cross-section by name: stiffness, mass, centres and axes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.stations import solve_stations
from limbfe.frames import RESULTANTS, STRAINS, Array, read_only
from limbfe.rows import Row, flat_row
from limbfe.section import (
    axial_stiffness,
    bending_stiffness,
    integration_points,
    principal_axes,
    shear_centre,
    tension_centre,
    torsion_stiffness,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionReport:
    """What one section of the limb is like.

    Attributes
    ----------
    x : float, m
        Station along the bow, lower limb negative.
    width, thickness, sapwood : float, m
    area : float, m2
    stiffness, mass : ndarray, shape (6, 6)
        In the order of `limbfe.frames`, about mid-width and mid-thickness (N, N m, N m2; kg/m,
        kg, kg m).
    axial_stiffness : float, N, with bending and twist free
    bending_stiffness : ndarray, shape (2, 2), N m2
        Moments My, Mz per curvature kappa_y, kappa_z without axial force.
    torsion_stiffness : float, N m2, with bending free
    tension_centre, shear_centre : ndarray, shape (2,), m
        (y, z): where an axial force bends nothing, where a shear twists nothing.
    weak_axis : float, rad
        From +y towards +z to the axis the section bends about most easily.
    """

    x: float
    width: float
    thickness: float
    sapwood: float
    area: float
    stiffness: Array
    mass: Array
    axial_stiffness: float
    bending_stiffness: Array
    torsion_stiffness: float
    tension_centre: Array
    shear_centre: Array
    weak_axis: float

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        return {
            "station_mm": self.x * 1e3,
            "width_mm": self.width * 1e3,
            "thickness_mm": self.thickness * 1e3,
            "sapwood_mm": self.sapwood * 1e3,
            "area_mm2": self.area * 1e6,
            "resultants": list(RESULTANTS),
            "strains": list(STRAINS),
            "stiffness_SI": self.stiffness.tolist(),
            "mass_SI": self.mass.tolist(),
            "axial_stiffness_N": self.axial_stiffness,
            "bending_stiffness_Nm2": self.bending_stiffness.tolist(),
            "torsion_stiffness_Nm2": self.torsion_stiffness,
            "tension_centre_mm": (1e3 * self.tension_centre).tolist(),
            "shear_centre_mm": (1e3 * self.shear_centre).tolist(),
            "weak_axis_deg": float(np.degrees(self.weak_axis)),
        }

    def rows(self) -> list[Row]:
        """Return the section as one row."""
        return [flat_row(self.to_dict())]


def report_section(setup: BowSetup, x: float) -> SectionReport:
    """Mesh and solve the section at a station.

    Parameters
    ----------
    setup : BowSetup
    x : float, m
        Along the bow, lower limb negative.

    Raises
    ------
    GeometryError
        If the station lies beyond a tip or the outline collapses there.
    """
    station = solve_stations(setup, np.array([x]))
    shapes, solution = station.shapes, station.sections
    _, weights = integration_points(station.mesh)
    return SectionReport(
        x=x,
        width=float(shapes.width[0]),
        thickness=float(shapes.thickness[0]),
        sapwood=float(shapes.sapwood[0]),
        area=float(weights.sum()),
        stiffness=read_only(solution.K[0]),
        mass=read_only(solution.mass[0]),
        axial_stiffness=float(axial_stiffness(solution)[0]),
        bending_stiffness=read_only(bending_stiffness(solution)[0]),
        torsion_stiffness=float(torsion_stiffness(solution)[0]),
        tension_centre=read_only(tension_centre(solution)[0]),
        shear_centre=read_only(shear_centre(solution)[0]),
        weak_axis=float(principal_axes(solution).angle[0]),
    )
