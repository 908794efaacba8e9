"""How a fibre of wood yields in compression along the grain, and keeps a set.

Tension is elastic: its breaking is judged by whoever reads the stress.  Compression is elastic up
to a yield stress that depends on how far the fibre has been crushed, and unloads elastically.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np

from limbfe.errors import MaterialError
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FibreLaw:
    """Yield stress in compression as the lowest of straight lines over the plastic strain.

    Attributes
    ----------
    modulus : ndarray, shape (...), Pa
        Young's modulus along the grain.
    start : ndarray, shape (lines, ...), Pa
        Yield stress of each line where nothing is crushed yet; inf for a fibre that never yields.
    slope : ndarray, shape (lines, ...), Pa
        Rise of each line per plastic strain; below zero softens, but less than the modulus.

    Notes
    -----
    Two lines are the bilinear law, proportional limit to crushing strength and on along a
    plateau; more of them follow any curve that bends downwards.
    """

    modulus: Array
    start: Array
    slope: Array


def bilinear_law(
    modulus: Array, proportional_limit: Array, crushing: Array, crushing_strain: Array
) -> FibreLaw:
    """Return the law that leaves the straight line early and then crushes at constant stress.

    Parameters
    ----------
    modulus, proportional_limit, crushing : array_like, shape (...), Pa
        Broadcast against each other.  Infinite stresses never yield.  Equal ones make the ideally
        plastic law.
    crushing_strain : array_like, shape (...)
        Strain, elastic part included, at which the crushing strength is reached; not used where
        the two stresses are equal.

    Raises
    ------
    MaterialError
        If a stress is not positive, the limit lies above the strength, or the strength is reached
        at a smaller strain than elastically.
    """
    E, low, high, strain = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (modulus, proportional_limit, crushing)),
        np.asarray(crushing_strain, dtype=np.float64),
    )
    if not (np.all(np.isfinite(E)) and np.all(E > 0.0)):
        raise MaterialError("fibre law: the modulus along the grain must be finite and positive")
    if not (np.all(low > 0.0) and np.all(high >= low)):
        raise MaterialError(
            "fibre law: 0 < proportional limit <= crushing strength must hold at every point"
        )
    yields = np.isfinite(high)
    bent = yields & (high > low)
    plastic = np.where(bent, strain - np.where(yields, high, 0.0) / E, 1.0)
    if not np.all(plastic > 0.0):
        raise MaterialError(
            "fibre law: the crushing strength must be reached at a larger strain than its stress "
            f"over the modulus; the worst point lacks {-float(plastic.min()):.3g}"
        )
    rise = np.where(bent, high, 0.0) - np.where(bent, low, 0.0)
    first = np.where(bent, low, high)
    return FibreLaw(
        modulus=E.copy(),
        start=np.stack([first, high]),
        slope=np.stack([rise / plastic, np.zeros_like(E)]),
    )


_GLOS_POINTS = (0.05, 0.12, 0.22, 0.35, 0.5, 0.66, 0.82, 1.0, 3.0)
"""Strains, over that at the crushing strength, between which the curve is taken straight."""


def glos_law(modulus: Array, crushing: Array, crushing_strain: Array, residual: float) -> FibreLaw:
    """Return the curve that bends from the start, peaks at the crushing strength and softens.

    Parameters
    ----------
    modulus, crushing, crushing_strain : array_like
        As in `bilinear_law`.  The strain must be more than 7/6 of crushing strength over modulus,
        from where on the curve lies below its first tangent.
    residual : float
        Stress far beyond the peak over the crushing strength.

    Raises
    ------
    MaterialError
        If the strain is too small.

    Notes
    -----
    ``stress = (e + a e^7) / (b e^7 + c e + d)``.  Of the code the power 7, the strain at the peak
    (0.8 to 1.2 per cent), the strain up to which the curve is meant (three times that) and a ratio
    ``R_c,y / R_c`` of about 0.8 were read, the last taken here for the stress far out.  The
    coefficients were not read; they follow from four demands: the slope at the start is the
    modulus, the peak has the crushing strength at the crushing strain and no slope, and the stress
    far out is the residual one.  Falling from the peak the curve sags; it is taken straight there,
    to its value at three times the strain, and on.

    References
    ----------
    P. Glos, Berichte zur Zuverlaessigkeitstheorie der Bauwerke 35 (1978) (from memory), in: Joint
    Committee on Structural Safety, Probabilistic Model Code, part 3.5 (2006), eqs. 1-6.
    """
    E, high, peak = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (modulus, crushing, crushing_strain))
    )
    yields = np.isfinite(high)
    top = np.where(yields, high, 1.0)
    if not np.all(6.0 * E * peak > 7.0 * np.where(yields, top, 0.0)):
        raise MaterialError(
            "fibre law: the strain at the crushing strength must be more than 7/6 of that strength "
            "over the modulus for this curve"
        )
    x = np.reshape(_GLOS_POINTS, (-1,) + (1,) * E.ndim)
    b = 1.0 / (6.0 * E * (1.0 - residual))
    above = peak * x + residual * top * b * x**7
    stress = above / (b * x**7 + (peak / top - 7.0 / (6.0 * E)) * x + 1.0 / E)
    plastic = peak * x - stress / E
    slope = np.where(yields, np.diff(stress, axis=0) / np.diff(plastic, axis=0), 0.0)
    start = np.where(yields, stress[:-1] - slope * plastic[:-1], np.inf)
    return FibreLaw(modulus=E.copy(), start=start, slope=slope)


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
    greatest of their roots and no iteration is needed.
    """
    E = law.modulus
    trial = -E * (strain + plastic)
    stiff = E + law.slope
    steps = (trial - law.start - law.slope * plastic) / stiff
    line = steps.argmax(axis=0)[None]
    step = np.take_along_axis(steps, line, axis=0)[0]
    yielding = step > 0.0
    step = np.where(yielding, step, 0.0)
    slope = np.take_along_axis(np.broadcast_to(law.slope, steps.shape), line, axis=0)[0]
    tangent = np.where(yielding, E * slope / (E + slope), E)
    return -(trial - E * step), plastic + step, tangent


def crushing_work(law: FibreLaw, plastic: Array) -> Array:
    """Return the work lost in crushing from nothing to `plastic`, shape (...), J/m3.

    The yield stress over the plastic strain, integrated exactly.
    """
    corners = _corners(law, plastic)
    work = np.zeros_like(plastic)
    for low, high in pairwise(corners):
        stress = (law.start + law.slope * (0.5 * (low + high))).min(axis=0)
        # An empty piece of a fibre that never yields would be zero times infinity.
        work += np.where(high > low, stress, 0.0) * (high - low)
    return work


def _corners(law: FibreLaw, plastic: Array) -> Array:
    """Return increasing plastic strains, 0 to `plastic`, between which one line governs."""
    found = [np.zeros_like(plastic), plastic]
    for i, j in combinations(range(len(law.start)), 2):
        bend = law.slope[i] - law.slope[j]
        crosses = (np.abs(bend) > 0.0) & np.isfinite(law.start[i]) & np.isfinite(law.start[j])
        gap = np.where(crosses, law.start[j], 0.0) - np.where(crosses, law.start[i], 0.0)
        found.append(np.clip(gap / np.where(crosses, bend, 1.0), 0.0, plastic))
    return np.sort(np.stack(found), axis=0)
