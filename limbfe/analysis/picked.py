"""Stress at some of the stations of a model only."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.hot_spots import Place
from limbfe.analysis.model import LimbModel
from limbfe.analysis.stress import WoodStress, stress_inside, stress_on_skin
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


def pick_model(model: LimbModel, station: Stations) -> LimbModel:
    """Return the model with the sections of some stations only; its beam stays whole."""
    mesh = replace(model.mesh, x=model.mesh.x[station], nodes=read_only(model.mesh.nodes[station]))
    return replace(model, x=read_only(model.x[station]), mesh=mesh, points=model.points[station])


def pick_fibres(section: FibreSection, station: Stations) -> FibreSection:
    """Return the fibre sections of some stations only."""
    law, solution = section.law, section.solution
    mesh = solution.mesh
    own = ("K", "C", "warping", "warping_slope", "plane_strain")
    return replace(
        section,
        solution=replace(
            solution,
            mesh=replace(mesh, x=mesh.x[station], nodes=mesh.nodes[station]),
            **{name: getattr(solution, name)[station] for name in own},
        ),
        law=FibreLaw(
            modulus=law.modulus[station], start=law.start[:, station], slope=law.slope[:, station]
        ),
        **{
            name: getattr(section, name)[station]
            for name in ("points", "weights", "loads", "grain", "fibre")
        },
    )
