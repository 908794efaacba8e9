"""When a split along the grain starts, where it stops and at which load it runs on.

A split of length l starts when the mean stress over l reaches the strength and the mean energy
release over l reaches the toughness, both at once; the length that needs the least load is the one
that appears.  From then on the tip at a moves when the energy release there reaches the toughness.

References
----------
D. Leguillon, Strength or toughness? A criterion for crack onset at a notch, European Journal of
Mechanics A/Solids 21 (2002), 61-72; P. Cornetti, N. Pugno, A. Carpinteri, D. Taylor, Finite
fracture mechanics: a coupled stress and energy failure criterion, Engineering Fracture Mechanics 73
(2006), 2021-2033 (both from memory).  Linear law of the two modes: common for wood (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.fem.cracks.closure import Growth
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class GrainStrength:
    """What resists a split along the grain.

    Attributes
    ----------
    across, shear : float, Pa
        Tension strength across the grain, shear strength along it.
    opening, sliding : float, J/m2
        Fracture energies.
    """

    across: float
    shear: float
    opening: float
    sliding: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Split:
    """A split under a load that grows in proportion.

    Attributes
    ----------
    start : float
        Load at which it starts, in units of the load of its `Growth`; infinite where it never does.
    start_length : float, m
        Length that appears at once.
    length : ndarray, shape (k,), m
        In the middle of the steps of growth.
    need : ndarray, shape (k,)
        Load at which a tip there moves on.
    end : float, m
        Length of the whole line.
    """

    start: float
    start_length: float
    length: Array
    need: Array
    end: float

    @property
    def barrier(self) -> float:
        """Load from which nothing on the line stops it: start included."""
        beyond = self.need[self.length >= self.start_length]
        return float(max(self.start, beyond.max(initial=0.0)))

    def length_at(self, load: float) -> float:
        """Return the length at a load, m: 0 before the start, `end` past the barrier."""
        if load < self.start:
            return 0.0
        grid = np.concatenate([[self.start_length], self.length[self.length > self.start_length]])
        need = np.interp(grid, self.length, self.need)
        held = np.flatnonzero(need > load)
        if len(held) == 0:
            return self.end
        k = int(held[0])
        if k == 0:
            return self.start_length
        share = (load - need[k - 1]) / (need[k] - need[k - 1])
        return float(grid[k - 1] + share * (grid[k] - grid[k - 1]))


def follow(growth: Growth, tied: Array, along: Array, strength: GrainStrength) -> Split:
    """Return when a split starts and what load it needs at every length.

    Parameters
    ----------
    growth : Growth
        Under the unit load.
    tied : ndarray, shape (c, 2), N per metre of thickness
        Opening and sliding forces on the pairs before anything splits.
    along : ndarray, shape (c,), m
        Place of the pairs.
    strength : GrainStrength
    """
    length = growth.length[1:]
    step = np.diff(growth.length)
    g = relative_release(growth, strength)
    with np.errstate(divide="ignore"):
        by_energy = 1.0 / np.sqrt(np.cumsum(np.maximum(g, 0.0) * step) / length)
        need = 1.0 / np.sqrt(np.maximum(g, 0.0))
        mean = mean_stress(tied, along, growth.length)
        pulled = np.maximum(mean[:, 0], 0.0) / strength.across
        by_stress = 1.0 / np.hypot(pulled, mean[:, 1] / strength.shear)
    start, first = _least_of_both(length, by_stress, by_energy)
    return Split(
        start=start,
        start_length=first,
        length=growth.middle,
        need=need,
        end=float(growth.length[-1]),
    )


def relative_release(growth: Growth, strength: GrainStrength) -> Array:
    """Return ``G_I / G_Ic + G_II / G_IIc`` of every step.

    In the first step, at a boundary, the sum of the two is right but their shares are not: they are
    taken from the second.
    """
    G_I, G_II = growth.G_I.copy(), growth.G_II.copy()
    if len(G_I) > 1 and G_I[1] + G_II[1] > 0.0:
        whole = G_I[0] + G_II[0]
        G_I[0], G_II[0] = (whole * one[1] / (G_I[1] + G_II[1]) for one in (G_I, G_II))
    out: Array = G_I / strength.opening + G_II / strength.sliding
    return out


def mean_stress(tied: Array, along: Array, tips: Array) -> Array:
    """Return mean opening and sliding stress from a line's start to each tip, (k, 2), Pa.

    The forces that tie the pairs are the stress's own, summed; a pair at a tip is shared by the
    lengths on its two sides.
    """
    places, number = np.unique(np.round(along / (1e-9 * tips[-1])), return_inverse=True)
    force = np.stack(
        [np.bincount(number.ravel(), weights=tied[:, k], minlength=len(places)) for k in (0, 1)], 1
    )
    at = places * 1e-9 * tips[-1]
    total = np.vstack([np.zeros(2), np.cumsum(force, axis=0)])
    out = np.empty((len(tips) - 1, 2))
    for k, tip in enumerate(tips[1:], start=1):
        behind = int(np.searchsorted(at, tip - 1e-8 * tips[-1]))
        here = behind < len(at) and abs(at[behind] - tip) <= 1e-8 * tips[-1]
        before = tip - tips[k - 1]
        after = tips[k + 1] - tip if k + 1 < len(tips) else before
        share = before / (before + after) if here else 0.0
        extra = force[behind] if here else 0.0
        out[k - 1] = (total[behind] + share * extra) / tip
    return out


def _least_of_both(length: Array, stress: Array, energy: Array) -> tuple[float, float]:
    """Return the least load at which both conditions hold, and its length.

    Where one takes over from the other between two lengths, the crossing of straight lines.
    """
    both = np.maximum(stress, energy)
    k = int(np.argmin(both))
    best = (float(both[k]), float(length[k]))
    if not np.isfinite(best[0]):
        return np.inf, 0.0
    gap = stress - energy
    finite = np.isfinite(gap[:-1]) & np.isfinite(gap[1:])
    for j in np.flatnonzero(finite & (np.sign(gap[:-1]) != np.sign(gap[1:]))):
        share = gap[j] / (gap[j] - gap[j + 1])
        load = float(stress[j] + share * (stress[j + 1] - stress[j]))
        if load < best[0]:
            best = (load, float(length[j] + share * (length[j + 1] - length[j])))
    return best
