"""One section at full draw on a regular grid: its wood, and the stress along the limb."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.stations import solve_stations
from limbfe.analysis.bow.yielding import wood_law
from limbfe.analysis.wood.limb_field import LimbField
from limbfe.frames import Array, read_only
from limbfe.section import neutral_axis, shear_centre, tension_centre
from limbfe.section.yielding.fibre_law import crush
from limbfe.stave.field import stiffness_at
from limbfe.stave.grain import from_pith
from limbfe.stave.outline import inside_outline
from limbfe.stave.profile import SectionShapes, grain_at
from limbfe.stave.stave import Stave
from limbfe.stave.zones import zone_at

GRID = 331
"""Grid points across the larger side of a section."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionField:
    """A section as arrays on a regular grid of section coordinates.

    Attributes
    ----------
    x : float, m
        Station along the bow, lower limb negative.
    outline : ndarray, shape (b, 2), m
        Boundary (y, z), once round.
    y : ndarray, shape (n,), m
    z : ndarray, shape (k,), m
    wood, knot, decay : ndarray of int, shape (k, n)
        Wood 0 heart, 1 sap, 2 backing, -1 outside the limb; index of the knot or patch, or -1.
    stress : ndarray, shape (k, n), Pa
        Along the limb at full draw; nan outside.
    ring_height : ndarray, shape (k, n), m
        Distance along the ring's normal: constant on one ring.
    neutral_point, neutral_direction : ndarray, shape (2,)
        The line without strain (m, unit vector).
    shear_centre, tension_centre : ndarray, shape (2,), m
    """

    x: float
    outline: Array
    y: Array
    z: Array
    wood: NDArray[np.int64]
    knot: NDArray[np.int64]
    decay: NDArray[np.int64]
    stress: Array
    ring_height: Array
    neutral_point: Array
    neutral_direction: Array
    shear_centre: Array
    tension_centre: Array


def section_field(setup: BowSetup, limb: LimbField, x: float) -> SectionField:
    """Return the section at a station, strained as at full draw, its fibres yielding.

    Parameters
    ----------
    setup : BowSetup
    limb : LimbField
        Its strains, from station to station.
    x : float, m
        Station along the bow, lower limb negative.

    Raises
    ------
    GeometryError
        If the station lies beyond a tip.
    """
    stave, station = setup.stave, solve_stations(setup, np.array([x]))
    strains = np.array([np.interp(x, limb.x, column) for column in limb.strains.T])
    outline = station.mesh.nodes[0, station.mesh.outline]
    y, z = _cells(outline)
    inside = inside_outline(station.shapes, *(axis[None] for axis in np.meshgrid(y, z)))[0]
    at = np.stack(np.meshgrid(y, z), axis=-1)[inside]
    axial = strains[0] + at[:, 1] * strains[4] - at[:, 0] * strains[5]
    compliance = np.linalg.inv(stiffness_at(stave, x, at[:, 0], at[:, 1]))
    along = np.reciprocal(compliance[None, :, 0, 0])
    law = wood_law(stave, np.array([x]), at[None], along)
    stress = crush(law, axial[None], np.zeros((1, len(at))))[0][0]
    zones = zone_at(stave, x, at[:, 0], at[:, 1])
    solution = station.sections
    neutral_point, neutral_direction = neutral_axis(solution, solution.K[0] @ strains)
    return SectionField(
        x=x,
        outline=read_only(outline),
        y=y,
        z=z,
        wood=_filled(inside, zones.wood),
        knot=_filled(inside, zones.knot),
        decay=_filled(inside, zones.decay),
        stress=_spread(inside, stress),
        ring_height=_ring_height(stave, station.shapes, y, z),
        neutral_point=neutral_point[0],
        neutral_direction=neutral_direction[0],
        shear_centre=shear_centre(solution)[0],
        tension_centre=tension_centre(solution)[0],
    )


def _cells(outline: Array) -> tuple[Array, Array]:
    """Return y and z of cell centres, so that whole cells end at the back and the sides."""
    low, size = outline.min(axis=0), np.ptp(outline, axis=0)
    counts = np.ceil(GRID * size / size.max()).astype(int)
    y, z = (low[k] + size[k] * (np.arange(counts[k]) + 0.5) / counts[k] for k in range(2))
    return y, z


def _filled(inside: NDArray[np.bool_], values: Any) -> NDArray[np.int64]:
    out = np.full(inside.shape, -1, dtype=np.int64)
    out[inside] = values
    return out


def _spread(inside: NDArray[np.bool_], values: Array) -> Array:
    out = np.full(inside.shape, np.nan)
    out[inside] = values
    return out


def _ring_height(stave: Stave, shapes: SectionShapes, y: Array, z: Array) -> Array:
    """Return the distance of every grid point along the rings' normal, from the back's middle."""
    grain, lean = grain_at(stave, shapes.x), float(shapes.lean[0])
    radius = float(grain.ring_radius[0])
    if not np.isfinite(radius):
        across, up = np.meshgrid(y, z - float(shapes.thickness[0]) / 2)
        flat: Array = across * np.sin(lean) + up * np.cos(lean)
        return flat
    outward: Array = np.hypot(*np.meshgrid(*from_pith(shapes, grain, y, z)))
    return outward - radius
