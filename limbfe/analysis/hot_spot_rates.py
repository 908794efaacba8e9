"""How strength used at the hot spots changes with the strains and the size of their section."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.hot_spots import Place
from limbfe.analysis.model import LimbModel
from limbfe.analysis.rates import SectionPair
from limbfe.analysis.solve import SolvedBow
from limbfe.analysis.stress import WoodStress, nearest_inside, stress_inside, stress_on_skin
from limbfe.frames import Array, read_only
from limbfe.section.fibre_law import FibreLaw
from limbfe.section.inelastic import FibreSection, fibre_response

Stations = NDArray[np.intp]
_STEP = 1e-6
"""Step of the difference quotients by the strains, as a share of each strain's scale."""


def strain_rates(solved: SolvedBow, places: tuple[Place, ...]) -> Array:
    """Return the change of strength used by the six strains of its section, shape (h, 6)."""
    station, strains, elastic = _at(solved, places)
    near = _near(solved, places)
    scale = np.abs(solved.full_draw.strains).reshape(-1, 6).max(axis=0)
    scale = _STEP * np.maximum(scale, [1e-3, 1e-3, 1e-3, 0.1, 0.1, 0.1])
    # every station twelve times: each strain to and fro
    many = np.repeat(station, 12)
    moved = np.repeat(strains, 12, axis=0)
    moved += np.tile(np.concatenate([np.diag(scale), -np.diag(scale)]), (len(places), 1))
    model, section = _pick_model(solved.model, many), _pick_fibres(solved.section, many)
    looked = _look(model, section, moved, elastic, np.repeat(near, 12, axis=0))
    used = np.stack([_used(looked, places, 12 * np.arange(len(places)) + k) for k in range(12)])
    return np.asarray((used[:6] - used[6:]).T / (2.0 * scale))


def size_rates(
    solved: SolvedBow,
    places: tuple[Place, ...],
    pair: SectionPair,
    fibres: tuple[FibreSection, FibreSection],
) -> Array:
    """Return the change of strength used by its section's own size, strains kept, shape (h,).

    Parameters
    ----------
    solved : SolvedBow
    places : tuple of Place, length h
    pair, fibres
        From `section_pair` and `changed_fibres`.
    """
    station, strains, elastic = _at(solved, places)
    near = _near(solved, places)
    larger, here, smaller = (
        _look(_pick_model(model, station), _pick_fibres(section, station), strains, elastic, near)
        for model, section in (
            (pair.larger, fibres[0]),
            (solved.model, solved.section),
            (pair.smaller, fibres[1]),
        )
    )
    return _size_rate(places, here, larger, smaller, pair.step)


def _at(solved: SolvedBow, places: tuple[Place, ...]) -> tuple[Stations, Array, bool]:
    """Return the stations of hot spots, the strains there, and whether the bow was elastic."""
    station = np.array([place.station for place in places], dtype=np.intp)
    strains = solved.full_draw.strains.reshape(-1, 6)[station]
    return station, strains, not solved.plastic.any()


def _near(solved: SolvedBow, places: tuple[Place, ...]) -> NDArray[np.intp]:
    """Return the integration points the skin's stress starts from, kept while anything moves."""
    station, strains, elastic = _at(solved, places)
    model = _pick_model(solved.model, station)
    _, inside = _look(model, _pick_fibres(solved.section, station), strains, elastic, None)
    return nearest_inside(model, inside)


Looked = tuple[WoodStress, WoodStress]


def _look(
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


def _used(looked: Looked, places: tuple[Place, ...], rows: Stations) -> Array:
    skin, inside = looked
    return np.array(
        [
            getattr((skin if place.on_skin else inside).used, place.mode)[row, place.point]
            for place, row in zip(places, rows, strict=True)
        ]
    )


def _size_rate(
    places: tuple[Place, ...], here: Looked, larger: Looked, smaller: Looked, step: float
) -> Array:
    """Return the difference quotients, from one side where the other lies in another layer."""
    rows = np.arange(len(places))
    used = [_used(looked, places, rows) for looked in (larger, here, smaller)]
    same = [_layers(looked, places) == _layers(here, places) for looked in (larger, smaller)]
    high = np.where(same[0], used[0], used[1])
    low = np.where(same[1], used[2], used[1])
    return read_only((high - low) / (step * np.maximum(same[0].astype(float) + same[1], 1.0)))


def _layers(looked: Looked, places: tuple[Place, ...]) -> Array:
    skin, inside = looked
    return np.array(
        [
            (skin if place.on_skin else inside).layer[row, place.point]
            for row, place in enumerate(places)
        ]
    )


def _pick_model(model: LimbModel, station: Stations) -> LimbModel:
    """Return the model with the sections of some stations only; its beam stays whole."""
    mesh = replace(model.mesh, x=model.mesh.x[station], nodes=read_only(model.mesh.nodes[station]))
    return replace(model, x=read_only(model.x[station]), mesh=mesh, points=model.points[station])


def _pick_fibres(section: FibreSection, station: Stations) -> FibreSection:
    law = section.law
    return replace(
        section,
        solution=replace(
            section.solution, K=section.solution.K[station], C=section.solution.C[station]
        ),
        law=FibreLaw(
            modulus=law.modulus[station], start=law.start[:, station], slope=law.slope[:, station]
        ),
        **{
            name: getattr(section, name)[station]
            for name in ("points", "weights", "basis", "fibre", "along")
        },
    )
