"""How strength used at the hot spots changes with the strains and the size of their section."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.hot_spots import Place
from limbfe.analysis.picked import Looked, Stations, look, pick_fibres, pick_model, used_at
from limbfe.analysis.rates import SectionPair
from limbfe.analysis.solve import SolvedBow
from limbfe.analysis.stress import nearest_inside
from limbfe.frames import Array, read_only
from limbfe.section.inelastic import FibreSection

_STEP = 1e-6
"""Step of the difference quotients by the strains, as a share of each strain's scale."""


def strain_rates(solved: SolvedBow, places: tuple[Place, ...]) -> Array:
    """Return the change of strength used by the six strains of its section, shape (h, 6)."""
    station, strains, elastic = _at(solved, places)
    near, rows = _near(solved, places), np.arange(len(places))
    model, section = pick_model(solved.model, station), pick_fibres(solved.section, station)
    scale = np.abs(solved.full_draw.strains).reshape(-1, 6).max(axis=0)
    scale = _STEP * np.maximum(scale, [1e-3, 1e-3, 1e-3, 0.1, 0.1, 0.1])
    sides = [
        [
            used_at(look(model, section, strains + step, elastic, near), places, rows)
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
        look(pick_model(model, station), pick_fibres(section, station), strains, elastic, near)
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
    model = pick_model(solved.model, station)
    _, inside = look(model, pick_fibres(solved.section, station), strains, elastic, None)
    return nearest_inside(model, inside)


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
