"""Words and numbers on pictures: lengths in the reader's units, labels that do not overlap."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from limbfe.frames import Array
from limbfe.units import UnitName, unit_factor, unit_system

if TYPE_CHECKING:
    from limbfe.analysis.results.assessment import Assessment
    from limbfe.analysis.wood.hot_spots import HotSpot
    from limbfe.analysis.zones.zone_verdict import ZoneVerdict

Units = UnitName


def length_text(metres: float, units: Units) -> str:
    """Return a length with its unit."""
    return unit_system(units).length(metres)


def set_text(metres: float, units: Units) -> str:
    """Return how far the tips stay behind, no finer than it is known, with its unit."""
    return unit_system(units).rough_length(metres)


def force_text(newtons: float, units: Units) -> str:
    """Return a force with its unit."""
    return unit_system(units).force(newtons)


def energy_text(joules: float, units: Units) -> str:
    """Return an energy with its unit."""
    return unit_system(units).energy(joules)


def length_unit(units: Units) -> tuple[float, str]:
    """Return the length unit of axes, in metres, and its sign."""
    return unit_system(units).scale("length")


def force_unit(units: Units) -> tuple[float, str]:
    """Return the force unit of axes, in newtons, and its sign."""
    return unit_system(units).scale("force")


def pull_step(units: Units) -> tuple[float, str]:
    """Return the step of draw length (m), and its name, over which the rise of force is said."""
    return (unit_factor("in", "length"), "inch") if units == "imperial" else (0.01, "centimetre")


def hot_spot_text(spot: HotSpot, units: Units) -> str:
    """Return the label of a hot spot: limb, face, station and strength used."""
    where = f"{spot.limb} {spot.face} at {length_text(spot.at, units)}"
    return f"{where}: {spot.strength_used:.2f}"


def zone_text(name: str, kind: str, at: float, units: Units) -> str:
    """Return the name of a knot or of decay and where it is."""
    return f"{kind} {name} at {length_text(at, units)}"


def defect_text(defect: ZoneVerdict, units: Units) -> str:
    """Return the label of a knot or patch: name, station, strength used."""
    where = zone_text(defect.name, defect.kind, defect.at, units)
    return f"{where}: {defect.strength_used:.2f}"


def ranked_hot_spots(assessment: Assessment) -> list[HotSpot]:
    """Return the hot spots, worst first."""
    return sorted(assessment.hot_spots, key=lambda spot: -spot.strength_used)


def chief_hot_spots(assessment: Assessment, count: int) -> tuple[HotSpot, ...]:
    """Return the hot spots worth a label: the worst of each face of each limb, worst first."""
    chosen: dict[tuple[str, str], HotSpot] = {}
    for spot in ranked_hot_spots(assessment):
        chosen.setdefault((spot.limb, spot.face), spot)
    return tuple(chosen.values())[:count]


def touching(start: Array, width: Array) -> list[list[int]]:
    """Return which stretches, each given by its start and width, overlap in a chain."""
    groups: list[list[int]] = []
    end = -np.inf
    for k in np.argsort(start, kind="stable"):
        if start[k] >= end:
            groups.append([])
        groups[-1].append(int(k))
        end = max(end, float(start[k] + width[k]))
    return groups


def stack_labels(start: Array, width: Array) -> list[int]:
    """Return a row for every label in which it runs into none of the others.

    Parameters
    ----------
    start, width : ndarray, shape (k,)
        Where each label begins along its row, and how long it is.

    Returns
    -------
    list of int, length k
        From 0; as few rows as do (labels are taken from left to right, each into the first row
        that is free by then, which is optimal for intervals).
    """
    rows = [0] * len(start)
    ends: list[float] = []
    for k in np.argsort(start, kind="stable"):
        free = (row for row, end in enumerate(ends) if end <= start[k])
        rows[k] = next(free, len(ends))
        ends[rows[k] : rows[k] + 1] = [float(start[k] + width[k])]
    return rows


def spread_labels(wanted: Array, gap: float, low: float, high: float) -> Array:
    """Return positions as close to the wanted ones as an even gap allows.

    Parameters
    ----------
    wanted : ndarray, shape (k,)
        Where each label would like to be, in any order.
    gap : float
        Least distance between neighbours; made smaller when they cannot all fit.
    low, high : float
        Where the column of labels begins and ends.

    Returns
    -------
    ndarray, shape (k,)
        In the order of `wanted`; their own order along the column is kept.

    Notes
    -----
    Least squares under ``p[i+1] - p[i] >= gap``: with ``q[i] = p[i] - i*gap`` the constraint is
    that q does not fall, which is isotonic regression (pool adjacent violators).
    """
    wanted = np.asarray(wanted, dtype=np.float64)
    count = len(wanted)
    if count == 0:
        return wanted.copy()
    gap = min(gap, (high - low) / max(count - 1, 1))
    order = np.argsort(wanted, kind="stable")
    steps = gap * np.arange(count)
    pools: list[tuple[float, int]] = []
    for value in wanted[order] - steps:
        mean, size = float(value), 1
        while pools and pools[-1][0] > mean:
            last, length = pools.pop()
            mean = (mean * size + last * length) / (size + length)
            size += length
        pools.append((mean, size))
    level = np.concatenate([np.full(size, mean) for mean, size in pools])
    out = np.empty(count)
    out[order] = np.clip(level, low, high - steps[-1]) + steps
    return out
