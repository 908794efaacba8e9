"""How strength used at the hot spots changes with the strains and the size of their section."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.bow.stations import Stations
from limbfe.analysis.rates.stave_rates import SectionPair
from limbfe.analysis.wood.hot_spots import Place
from limbfe.analysis.wood.picked import Looked, Picks, look, pick_fibres, pick_stations, used_at
from limbfe.analysis.wood.stress import (
    WoodStress,
    nearest_inside,
    stress_inside,
    stress_on_skin,
)
from limbfe.analysis.wood.stretched import link_parts, size_factor, skin_tension
from limbfe.frames import Array, read_only
from limbfe.section.yielding.inelastic import FibreSection, fibre_response, fresh_state
from limbfe.wood.weakest_link import SHAPE

_STEP = 1e-6
"""Step of the difference quotients by the strains, as a share of each strain's scale."""


def strain_rates(solved: SolvedBow, places: tuple[Place, ...]) -> Array:
    """Return the change of strength used by the six strains of its section, shape (h, 6)."""
    station, strains, elastic = _at(solved, places)
    near, rows = _near(solved, places), np.arange(len(places))
    picked = pick_stations(solved.model.stations, station)
    section = pick_fibres(solved.section, station)
    scale = np.abs(solved.full_draw.strains).reshape(-1, 6).max(axis=0)
    scale = _STEP * np.maximum(scale, [1e-3, 1e-3, 1e-3, 0.1, 0.1, 0.1])
    sides = [
        [
            used_at(look(picked, section, strains + step, elastic, near), places, rows)
            for step in (change, -change)
        ]
        for change in np.diag(scale)
    ]
    rates: Array = np.stack([high - low for high, low in sides], axis=1) / (2.0 * scale)
    return rates


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
        look(pick_stations(side, station), pick_fibres(section, station), strains, elastic, near)
        for side, section in (
            (pair.larger, fibres[0]),
            (solved.model.stations, solved.section),
            (pair.smaller, fibres[1]),
        )
    )
    return _size_rate(places, here, larger, smaller, pair.step)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizeRates:
    """How the logarithm of `limbfe.analysis.wood.stretched.size_factor` changes.

    Attributes
    ----------
    by_strain : ndarray, shape (S, 6)
        By the strains of every section.
    by_size : tuple of ndarray, shape (S,), 1/m
        By every section's own size, strains kept; one for each change of the sections.
    """

    by_strain: Array
    by_size: tuple[Array, ...]


def stretched_rates(
    solved: SolvedBow,
    changes: tuple[tuple[SectionPair, tuple[FibreSection, FibreSection]], ...],
) -> SizeRates:
    """Return how the effect of the volume of stretched wood changes.

    With q the links ``parts used^k`` of a section, ``k log(size)`` is the logarithm of their sum
    less k times that of the highest strength used on the skin.
    """
    stations, section = solved.model.stations, solved.section
    strains, elastic = solved.full_draw.strains.reshape(-1, 6), not solved.plastic.any()
    scale = _STEP * np.maximum(np.abs(strains).max(axis=0), [1e-3, 1e-3, 1e-3, 0.1, 0.1, 0.1])
    parts = link_parts(stations, section)

    def inside(sections: Stations, fibres: FibreSection, strains: Array) -> WoodStress:
        nothing = fresh_state(fibres)
        plastic = nothing if elastic else fibre_response(fibres, strains, nothing).plastic
        return stress_inside(sections, fibres, strains, plastic)

    here = inside(stations, section, strains)
    skin = stress_on_skin(stations, strains, here)
    if size_factor(parts, skin, here) <= 1.0:
        count = len(stations.x)
        return SizeRates(by_strain=np.zeros((count, 6)), by_size=(np.zeros(count),) * len(changes))
    used = np.where(parts > 0.0, here.used.tension, 0.0)
    whole = SHAPE * float((parts * used**SHAPE).sum())
    highest = _highest(stations, skin_tension(parts, skin))
    by_strain = np.empty((len(stations.x), 6))
    for k, step in enumerate(np.diag(scale)):
        high, low = (
            inside(stations, section, strains + change).used.tension for change in (step, -step)
        )
        links = parts * (high**SHAPE - low**SHAPE)
        by_strain[:, k] = links.sum(axis=1) / (2.0 * scale[k] * whole)
    by_strain[highest.station] -= strain_rates(solved, (highest,))[0] / highest.used
    by_size = []
    for pair, fibres in changes:
        ends = []
        for sections, one in ((pair.larger, fibres[0]), (pair.smaller, fibres[1])):
            found, same_parts = inside(sections, one, strains), link_parts(sections, one)
            same = (found.layer == here.layer) & (same_parts > 0.0)
            tension = np.where(same, found.used.tension, used)
            ends.append((np.where(same, same_parts, parts) * tension**SHAPE, same))
        (high, one), (low, two) = ends
        weight = pair.step * np.maximum(one.astype(float) + two, 1.0)
        rates = ((high - low) / weight).sum(axis=1) / whole
        rates[highest.station] -= size_rates(solved, (highest,), pair, fibres)[0] / highest.used
        by_size.append(rates)
    return SizeRates(by_strain=by_strain, by_size=tuple(by_size))


def _highest(stations: Stations, tension: Array) -> Place:
    """Return the place of the skin that is stretched hardest, tension of shape (S, b)."""
    station, point = np.unravel_index(int(tension.argmax()), tension.shape)
    limb = "upper" if stations.x[station] > 0.0 else "lower"
    return Place(limb, "tension", int(station), int(point), float(tension[station, point]))


def _at(solved: SolvedBow, places: tuple[Place, ...]) -> tuple[Picks, Array, bool]:
    """Return the stations of hot spots, the strains there, and whether the bow was elastic."""
    station = np.array([place.station for place in places], dtype=np.intp)
    strains = solved.full_draw.strains.reshape(-1, 6)[station]
    return station, strains, not solved.plastic.any()


def _near(solved: SolvedBow, places: tuple[Place, ...]) -> NDArray[np.intp]:
    """Return the integration points the skin's stress starts from, kept while anything moves."""
    station, strains, elastic = _at(solved, places)
    picked = pick_stations(solved.model.stations, station)
    _, inside = look(picked, pick_fibres(solved.section, station), strains, elastic, None)
    return nearest_inside(picked, inside)


def _size_rate(
    places: tuple[Place, ...], here: Looked, larger: Looked, smaller: Looked, step: float
) -> Array:
    """Return the difference quotients, from one side where the other lies in another layer."""
    rows = np.arange(len(places))
    used = [used_at(looked, places, rows) for looked in (larger, here, smaller)]
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
