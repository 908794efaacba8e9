"""How a fibre of wood yields in compression along the grain, and keeps a set.

Tension is elastic: its breaking is judged by whoever reads the stress.  Compression is elastic up
to a yield stress that depends on how far the fibre has been crushed, and unloads elastically.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Any

import numpy as np

from limbfe.errors import MaterialError
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FibreLaw:
    """Yield stress in compression over the plastic strain: the lowest of straight lines.

    The last line falls no lower than the level: up to a peak, down from it, and on along a plateau.

    Attributes
    ----------
    modulus : ndarray, shape (...), Pa
        Young's modulus along the grain.
    start : ndarray, shape (lines, ...), Pa
        Yield stress of each line where nothing is crushed yet; inf for a fibre that never yields.
    slope : ndarray, shape (lines, ...), Pa
        Rise of each line per plastic strain; below zero softens, but less than the modulus.
    level : ndarray, shape (...), Pa
        Where the last line ends, however far the fibre is crushed; inf for one that never yields.
    """

    modulus: Array
    start: Array
    slope: Array
    level: Array


def law_through(modulus: Array, stress: Array, plastic: Array) -> FibreLaw:
    """Return the law whose yield stress runs straight from point to point and stays at the last.

    Parameters
    ----------
    modulus : array_like, shape (...), Pa
    stress, plastic : array_like, shape (k + 1, ...), Pa and 1
        Yield stress at increasing plastic strains, the first 0; infinite stresses never yield.

    Raises
    ------
    MaterialError
        If a stress is not positive, the points bend upwards, or the stress falls faster than the
        modulus, so that no strain could be given to the fibre step by step.
    """
    E = np.asarray(modulus, dtype=np.float64)
    high = np.asarray(stress, dtype=np.float64)
    strain = np.asarray(plastic, dtype=np.float64)
    strain = strain.reshape(strain.shape + (1,) * (high.ndim - strain.ndim))
    if not (np.all(np.isfinite(E)) and np.all(E > 0.0)):
        raise MaterialError("fibre law: the modulus along the grain must be finite and positive")
    yields = np.isfinite(high[0])
    top = np.where(yields, high, 1.0)
    slope = np.diff(top, axis=0) / np.diff(strain, axis=0)
    if not (np.all(top > 0.0) and np.all(np.diff(slope, axis=0) <= 1e-9 * E)):
        raise MaterialError(
            "fibre law: the yield stress must be positive and bend downwards, point by point"
        )
    if not np.all(slope > -E):
        raise MaterialError("fibre law: the stress falls faster than the modulus allows")
    start = np.where(yields, top[:-1] - slope * strain[:-1], np.inf)
    return FibreLaw(modulus=E.copy(), start=start, slope=slope, level=high[-1].copy())


def pick_law(law: FibreLaw, places: Any) -> FibreLaw:
    """Return the law of some fibres only, picked by any NumPy index of an array of shape (...)."""
    return FibreLaw(
        modulus=law.modulus[places],
        start=np.stack([line[places] for line in law.start]),
        slope=np.stack([line[places] for line in law.slope]),
        level=law.level[places],
    )


def yield_stress(law: FibreLaw, plastic: Array) -> Array:
    """Return the stress, Pa, at which fibres crushed by `plastic`, shape (...), yield further."""
    lines = law.start + law.slope * plastic
    lines[-1] = np.maximum(lines[-1], law.level)
    return np.asarray(lines.min(axis=0))


def crush(law: FibreLaw, strain: Array, plastic: Array) -> tuple[Array, Array, Array]:
    """Strain fibres along the grain.

    Parameters
    ----------
    law : FibreLaw
        Arrays of shape (...).
    strain : ndarray, shape (...)
        Total strain, tension positive.
    plastic : ndarray, shape (...)
        How far each fibre is crushed already, 0 or more.

    Returns
    -------
    stress : ndarray, shape (...), Pa
    plastic : ndarray, shape (...)
    tangent : ndarray, shape (...), Pa
        Change of stress per change of strain.

    Notes
    -----
    Crushing by ``d`` must end on the lowest line: ``-E (strain + plastic + d) = min_k (start_k +
    slope_k (plastic + d))``.  The gap is the greatest of falling straight lines, so its root is the
    greatest of their roots, the last line's being that of its level where that comes before, and
    no iteration is needed.
    """
    E = law.modulus
    trial = -E * (strain + plastic)
    steps = (trial - law.start - law.slope * plastic) / (E + law.slope)
    slopes = np.broadcast_to(law.slope, steps.shape).copy()
    level = (trial - law.level) / E
    slopes[-1] = np.where(level < steps[-1], 0.0, slopes[-1])
    steps[-1] = np.minimum(steps[-1], level)
    line = steps.argmax(axis=0)[None]
    step = np.take_along_axis(steps, line, axis=0)[0]
    slope = np.take_along_axis(slopes, line, axis=0)[0]
    yielding = step > 0.0
    step = np.where(yielding, step, 0.0)
    tangent = np.where(yielding, E * slope / (E + slope), E)
    return -(trial - E * step), plastic + step, tangent


def crushing_work(law: FibreLaw, plastic: Array) -> Array:
    """Return the work lost in crushing from nothing to `plastic`, shape (...), J/m3.

    The yield stress over the plastic strain, integrated exactly.
    """
    corners = _corners(law, plastic)
    work = np.zeros_like(plastic)
    for low, high in pairwise(corners):
        stress = yield_stress(law, 0.5 * (low + high))
        # An empty piece of a fibre that never yields would be zero times infinity.
        work += np.where(high > low, stress, 0.0) * (high - low)
    return work


def _corners(law: FibreLaw, plastic: Array) -> Array:
    """Return increasing plastic strains, 0 to `plastic`, between which one line governs."""
    found = [np.zeros_like(plastic), plastic]
    start = np.concatenate([law.start, law.level[None]])
    slope = np.concatenate([law.slope, np.zeros_like(law.level)[None]])
    for i, j in combinations(range(len(start)), 2):
        bend = slope[i] - slope[j]
        crosses = (np.abs(bend) > 0.0) & np.isfinite(start[i]) & np.isfinite(start[j])
        gap = np.where(crosses, start[j], 0.0) - np.where(crosses, start[i], 0.0)
        found.append(np.clip(gap / np.where(crosses, bend, 1.0), 0.0, plastic))
    return np.sort(np.stack(found), axis=0)
