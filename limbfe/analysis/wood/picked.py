"""Stress at some of the stations of a model only."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.stations import Stations
from limbfe.analysis.wood.hot_spots import Place
from limbfe.analysis.wood.limb_wood import LimbWood, WoodPoints
from limbfe.analysis.wood.stress import WoodStress, stress_inside, stress_on_skin
from limbfe.failure.criteria import MODES, GrainStrength
from limbfe.frames import Array, read_only
from limbfe.section.yielding.fibre_law import pick_law
from limbfe.section.yielding.inelastic import FibreSection, fibre_response

Picks = NDArray[np.intp]
"""Indices of stations."""
Looked = tuple[WoodStress, WoodStress]


def look(
    stations: Stations,
    section: FibreSection,
    strains: Array,
    elastic: bool,
    near: NDArray[np.intp] | None,
) -> Looked:
    """Return the stress on the skin and inside of some stations at some strains."""
    nothing = np.zeros(section.weights.shape)
    plastic = nothing if elastic else fibre_response(section, strains, nothing).plastic
    inside = stress_inside(stations, section, strains, plastic)
    return stress_on_skin(stations, strains, inside, near), inside


def used_at(looked: Looked, places: tuple[Place, ...], rows: Picks) -> Array:
    """Return strength used at places, each looked at in its own row of `looked`, shape (h,)."""
    skin, inside = looked
    return np.array(
        [
            getattr((skin if place.on_skin else inside).used, place.mode)[row, place.point]
            for place, row in zip(places, rows, strict=True)
        ]
    )


def pick_wood(wood: LimbWood, station: Picks) -> LimbWood:
    """Return the wood of some stations only."""
    return LimbWood(
        section=pick_fibres(wood.section, station),
        inside=_pick_points(wood.inside, station),
        skin=_pick_points(wood.skin, station),
        law=pick_law(wood.law, station),
        near=wood.near[station],
    )


def _pick_points(points: WoodPoints, station: Picks) -> WoodPoints:
    strength = points.strength
    return WoodPoints(
        points=points.points[station],
        strength=GrainStrength(
            # one grain for all has no stations
            grain=strength.grain if strength.grain.ndim == 2 else strength.grain[station],
            **{name: getattr(strength, name)[station] for name in MODES},
        ),
        crushed_at=points.crushed_at[station],
        bar=points.bar.pick(station),
        clear=points.clear[station],
        layer=points.layer[station],
    )


def pick_stations(stations: Stations, station: Picks) -> Stations:
    """Return some of the stations, for a look at their stress; shapes and sections stay whole."""
    mesh = replace(
        stations.mesh, x=stations.mesh.x[station], nodes=read_only(stations.mesh.nodes[station])
    )
    return replace(
        stations, x=read_only(stations.x[station]), mesh=mesh, points=stations.points[station]
    )


def pick_fibres(section: FibreSection, station: Picks) -> FibreSection:
    """Return the fibre sections of some stations only."""
    solution, mesh = section.solution, section.solution.mesh
    own = ("K", "C", "warping", "warping_slope", "plane_strain")
    return replace(
        section,
        solution=replace(
            solution,
            mesh=replace(mesh, x=mesh.x[station], nodes=mesh.nodes[station]),
            **{name: getattr(solution, name)[station] for name in own},
        ),
        law=pick_law(section.law, station),
        **{
            name: getattr(section, name)[station]
            for name in ("points", "weights", "loads", "grain", "fibre")
        },
    )
