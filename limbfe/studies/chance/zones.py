"""Knots and patches by tables: judged at full draw as they show, and a size smaller and larger."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.limb_load import LimbLoad, limb_load
from limbfe.analysis.zones.verdicts import SEED, local_problem
from limbfe.case.build import build_setup
from limbfe.case.schema import Case
from limbfe.errors import GeometryError
from limbfe.failure.local import judge_zone
from limbfe.failure.probability import Beside, Demand, Demands, Scatter
from limbfe.failure.problem import LocalOutcome
from limbfe.frames import Array
from limbfe.stave.knot import Knot
from limbfe.stave.named_zones import Zone, find_zone, with_zone, zones_of
from limbfe.studies.chance.bows import Site
from limbfe.studies.chance.inputs import KNOT_SIZE, PATCH_SIZE, Factors

_NONE = 1e-6
"""Strength used that counts as none."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneTable:
    """What one zone asks of the wood at full draw, and how that goes with its size.

    Attributes
    ----------
    name, kind : str
    at : float, m
        Along the bow.
    demands : Demands
    sizes : ndarray, shape (k,), increasing
        Logarithms of its size over what shows; 0 is among them.
    rupture, split : ndarray, shape (k,)
        Logarithms of strength used over that at what shows.
    site : Site
    """

    name: str
    kind: str
    at: float
    demands: Demands
    sizes: Array
    rupture: Array
    split: Array
    site: Site


def zone_plans(case: Case) -> dict[str, tuple[Case, str, float]]:
    """Return the judgements that the tables need, by name: tasks of `run_tasks`."""
    plans = {}
    for zone in zones_of(build_setup(case).stave):
        wide = KNOT_SIZE if isinstance(zone, Knot) else PATCH_SIZE
        for size in (0.0, -1.5 * wide, 1.5 * wide):
            plans[f"{zone.label} {size:g}"] = (case, zone.name, size)
    return plans


def judged_at_size(item: tuple[Case, str, float]) -> dict[str, Any]:
    """Judge one zone at one size under the full draw of the bow of the case.

    Returns
    -------
    dict
        Empty where nothing of the zone lies in the limb or it does not bend there.

    Raises
    ------
    GeometryError, ConvergenceError
        If a zone of that size has no local model.
    """
    case, name, size = item
    solved = exercised_bow(build_setup(case), beyond=False)
    return judged_zone(solved, limb_load(solved), name, size)


def judged_zone(solved: SolvedBow, load: LimbLoad, name: str, size: float) -> dict[str, Any]:
    """Judge a zone of a bow at a size (logarithm over what shows); see `judged_at_size`."""
    zone = find_zone(solved.model.setup.stave, name)
    other = zone if size == 0.0 else sized_zone(zone, float(np.exp(size)))
    stave = None if size == 0.0 else with_zone(solved.model.setup.stave, other)
    problem, around = local_problem(solved.model, load, other, stave)
    if problem is None:
        return {}
    outcome = judge_zone(problem, np.random.default_rng(SEED))
    asked = outcome.demands
    assert asked is not None
    place = outcome.modes["fibre"].place
    flat = zone.face in ("back", "belly")
    y, z = (place.y, place.z) if flat or place.station is not None else (place.z, place.y)
    at = around.index if place.station is None else [place.station, place.station]
    return {
        "rupture": vars_of(asked.rupture),
        "splits": [vars_of(one) for one in asked.splits],
        "scatter": vars_of(asked.scatter),
        "beside": vars_of(asked.beside),
        "x": [float(solved.model.stations.x[int(k)]) for k in at],
        "y": float(y),
        "z": float(z),
        **_worst(outcome),
    }


def _worst(outcome: LocalOutcome) -> dict[str, float]:
    asked = outcome.demands
    assert asked is not None
    return {
        "rupture_used": asked.rupture.typical,
        "split_used": max(one.typical for one in asked.splits),
    }


def vars_of(one: Any) -> dict[str, float]:
    """Return the numbers of a dataclass as JSON holds them."""
    return {name: float(getattr(one, name)) for name in one.__dataclass_fields__}


def sized_zone(zone: Zone, factor: float) -> Zone:
    """Return a zone that many times as large, in its place."""
    if isinstance(zone, Knot):
        return replace(zone, radius=factor * zone.radius, far_radius=factor * zone.far_radius)
    return replace(zone, semi_axes=factor * zone.semi_axes)


def zone_tables(
    case: Case, found: dict[str, dict[str, Any] | None], stations: Array
) -> tuple[tuple[ZoneTable, ...], tuple[str, ...]]:
    """Return the tables of the zones that lie in the limb, and what could not be judged.

    Parameters
    ----------
    case : Case
    found : dict
        Results of `judged_at_size` by the names of `zone_plans`; None for those that failed.
    stations : ndarray, shape (S,), m
        Gauss stations of the design's bows.

    Raises
    ------
    GeometryError
        If a zone as it shows has no local model: without it there is no chance to tell.
    """
    tables, words = [], []
    for zone in zones_of(build_setup(case).stave):
        sizes = {
            size: found[name]
            for name, (_, mine, size) in zone_plans(case).items()
            if mine == zone.name
        }
        own = sizes[0.0]
        if own is None:
            raise GeometryError(
                f"{zone.label}: has no local model, so its chance cannot be told; see "
                "limbfe assess for the reason"
            )
        if not own:
            continue
        there = sorted(size for size, one in sizes.items() if one)
        if len(there) < len(sizes):
            words.append(f"{zone.label}: larger or smaller it has no local model; its hidden size "
                         "counts as far as there is one")  # fmt: skip
        tables.append(
            ZoneTable(
                name=zone.name,
                kind=zone.kind,
                at=float(zone.extent[0]),
                demands=demands_of(own),
                sizes=np.array(there),
                rupture=_ratios([sizes[size] for size in there], own, "rupture_used"),
                split=_ratios([sizes[size] for size in there], own, "split_used"),
                site=Site(
                    stations=np.array([int(np.abs(stations - x).argmin()) for x in own["x"]]),
                    y=own["y"],
                    z=own["z"],
                ),
            )
        )
    return tuple(tables), tuple(words)


def _ratios(those: list[dict[str, Any] | None], own: dict[str, Any], name: str) -> Array:
    if own[name] < _NONE:
        return np.zeros(len(those))
    return np.array([np.log(max(one[name], _NONE) / own[name]) if one else 0.0 for one in those])


def demands_of(own: dict[str, Any]) -> Demands:
    """Return what was judged of a zone, from the numbers of `judged_at_size`."""
    return Demands(
        rupture=Demand(**own["rupture"]),
        splits=tuple(Demand(**one) for one in own["splits"]),
        scatter=Scatter(**own["scatter"]),
        beside=Beside(**own["beside"]),
    )


def rupture_used(table: ZoneTable, found: Factors, column: int) -> Array:
    """Return tension used by the limb with a zone at full draw and mean strength, (n,).

    As `limbfe.failure.probability.failure_probability`, the modulus and the model apart.
    """
    asked = table.demands.rupture
    used = asked.typical * _banded(asked, found.band)
    size = np.interp(found.size[:, column], table.sizes, table.rupture)
    return np.asarray(used * np.exp(size) / found.alike[:, column])


def splits_used(table: ZoneTable, found: Factors, column: int) -> Array:
    """Return strength used to split at full draw at the modulus of the case, shape (n,).

    As `limbfe.failure.probability.failure_probability`, the modulus and the model apart.
    """
    across, shear = np.exp(found.logs[:, 3]), np.exp(found.logs[:, 4])
    tension = np.exp(found.logs[:, 1]) * found.luck
    modulus = np.exp(found.logs[:, 0])
    worst = np.zeros(len(modulus))
    for one in table.demands.splits:
        parts = ((one.fibre, tension), (one.opening, across), (one.sliding, shear))
        squares = sum((part / strength) ** 2 for part, strength in parts if part > 0.0)
        # the toughness goes with stress over the root of the modulus
        squares = squares + one.toughness**2 / (found.toughness * modulus)
        worst = np.maximum(worst, one.typical * _banded(one, found.band) * np.sqrt(squares))
    size = np.interp(found.size[:, column], table.sizes, table.split)
    return np.asarray(worst * np.exp(size))


def _banded(one: Demand, band: Array) -> Array:
    """Return the factor that a place in the band, -1 to 1, is on the typical strength used."""
    if one.typical <= 0.0:
        return np.zeros(len(band))
    down = np.log(max(one.low, 1e-6 * one.typical) / one.typical)
    up = np.log(max(one.high, one.typical) / one.typical)
    return np.asarray(np.exp(np.where(band < 0.0, -band * down, band * up)))
