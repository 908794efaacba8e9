"""Stress at some of the stations of a model only."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.hot_spots import Place
from limbfe.analysis.limb_wood import LimbWood, WoodPoints
from limbfe.analysis.model import LimbModel
from limbfe.analysis.stress import WoodStress, stress_inside, stress_on_skin
from limbfe.failure.criteria import MODES, GrainStrength
from limbfe.frames import Array, read_only
from limbfe.section.fibre_law import FibreLaw
from limbfe.section.inelastic import FibreSection, fibre_response

Stations = NDArray[np.intp]
Looked = tuple[WoodStress, WoodStress]


def look(
    model: LimbModel,
    section: FibreSection,
    strains: Array,
    elastic: bool,
    near: NDArray[np.intp] | None,
) -> Looked:
    """Return the stress on the skin and inside of some stations at some strains."""
    nothing = np.zeros(section.weights.shape)
    plastic = nothing if elastic else fibre_response(section, strains, nothing).plastic
    inside = stress_inside(model, section, strains, plastic)
    return stress_on_skin(model, strains, inside, near), inside


def used_at(looked: Looked, places: tuple[Place, ...], rows: Stations) -> Array:
    """Return strength used at places, each looked at in its own row of `looked`, shape (h,)."""
    skin, inside = looked
    return np.array(
        [
            getattr((skin if place.on_skin else inside).used, place.mode)[row, place.point]
            for place, row in zip(places, rows, strict=True)
        ]
    )


def pick_wood(wood: LimbWood, station: Stations) -> LimbWood:
    """Return the wood of some stations only."""
    return LimbWood(
        section=pick_fibres(wood.section, station),
        inside=_pick_points(wood.inside, station),
        skin=_pick_points(wood.skin, station),
        law=_pick_law(wood.law, station),
        near=wood.near[station],
    )


def _pick_points(points: WoodPoints, station: Stations) -> WoodPoints:
    strength = points.strength
    return WoodPoints(
        points=points.points[station],
        strength=GrainStrength(
            # one grain for all has no stations
            grain=strength.grain if strength.grain.ndim == 2 else strength.grain[station],
            **{name: getattr(strength, name)[station] for name in MODES},
        ),
        crushed_at=points.crushed_at[station],
        clear=points.clear[station],
        layer=points.layer[station],
    )


def _pick_law(law: FibreLaw, station: Stations) -> FibreLaw:
    return FibreLaw(
        modulus=law.modulus[station], start=law.start[:, station], slope=law.slope[:, station]
    )


def pick_model(model: LimbModel, station: Stations) -> LimbModel:
    """Return the model with the sections of some stations only; its beam stays whole."""
    mesh = replace(model.mesh, x=model.mesh.x[station], nodes=read_only(model.mesh.nodes[station]))
    return replace(model, x=read_only(model.x[station]), mesh=mesh, points=model.points[station])


def pick_fibres(section: FibreSection, station: Stations) -> FibreSection:
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
        law=_pick_law(section.law, station),
        **{
            name: getattr(section, name)[station]
            for name in ("points", "weights", "loads", "grain", "fibre")
        },
    )
