"""Functions of depth by which a plate's displacements vary.

The displacement in the plane is ``sum_k F_k(z) u_k(x, y)``; the deflection w is common to all
depths.  Only the list of the functions tells one model of a plate from another.

References
----------
J. N. Reddy, Mechanics of Laminated Composite Plates and Shells: first-order, third-order and
layerwise theories (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from limbfe.frames import Array, read_only


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profiles:
    """A list of functions of depth.

    Attributes
    ----------
    kind : {"legendre", "hats"}
        Legendre polynomials P0 to P(count - 1) over the depth, or hats on the levels.
    levels : ndarray, shape (n,), m
        For polynomials the two faces; for hats every level, increasing.  Beyond the outermost
        level the functions go on as they run next to it.
    count : int
        Number of functions K.
    shear_factor : float
        On the stiffness against transverse shear.
    """

    kind: Literal["legendre", "hats"]
    levels: Array
    count: int
    shear_factor: float = 1.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "levels", read_only(self.levels))

    @property
    def unknowns(self) -> int:
        """Unknowns of a node: two for every function, and the deflection."""
        return 2 * self.count + 1


def straight(low: float, high: float) -> Profiles:
    """Return the functions 1 and z: sections stay straight through the depth (5 unknowns).

    References
    ----------
    E. Reissner 1945; R. D. Mindlin 1951: the shear factor 5/6 (from memory).
    """
    return Profiles(kind="legendre", levels=np.array([low, high]), count=2, shear_factor=5.0 / 6.0)


def cubic(low: float, high: float) -> Profiles:
    """Return four polynomials: sections may warp as a cubic in the depth (9 unknowns)."""
    return Profiles(kind="legendre", levels=np.array([low, high]), count=4)


def layered(levels: Array) -> Profiles:
    """Return hats on the levels (m): straight through every layer (2 n + 1 unknowns)."""
    return Profiles(kind="hats", levels=levels, count=len(levels))


def values(profiles: Profiles, z: Array) -> tuple[Array, Array]:
    """Return the functions and their slopes at depths.

    Parameters
    ----------
    z : ndarray, shape (...), m

    Returns
    -------
    F : ndarray, shape (K, ...)
    slope : ndarray, shape (K, ...), 1/m
    """
    if profiles.kind == "legendre":
        return _legendre(profiles, z)
    levels = profiles.levels
    layer = np.clip(np.searchsorted(levels, z) - 1, 0, len(levels) - 2)
    thick = np.diff(levels)[layer]
    share = (z - levels[layer]) / thick
    F, slope = np.zeros((2, len(levels), *z.shape))
    for k in range(len(levels)):
        below, above = layer == k, layer == k - 1
        F[k] = np.where(below, 1.0 - share, 0.0) + np.where(above, share, 0.0)
        slope[k] = (above.astype(float) - below) / thick
    return F, slope


def _legendre(profiles: Profiles, z: Array) -> tuple[Array, Array]:
    middle, half = profiles.levels.mean(), 0.5 * np.ptp(profiles.levels)
    s = (z - middle) / half
    one, zero = np.ones_like(s), np.zeros_like(s)
    F = [one, s, 1.5 * s * s - 0.5, (2.5 * s * s - 1.5) * s]
    slope = [zero, one, 3.0 * s, 7.5 * s * s - 1.5]
    return np.stack(F[: profiles.count]), np.stack(slope[: profiles.count]) / half


def plane_motion(profiles: Profiles) -> tuple[Array, Array]:
    """Return what to give every u_k for the displacements 1 and z, shape (K,) each."""
    one, depth = np.zeros((2, profiles.count))
    if profiles.kind == "legendre":
        one[0] = 1.0
        depth[:2] = profiles.levels.mean(), 0.5 * np.ptp(profiles.levels)
        return one, depth
    return np.ones(profiles.count), np.array(profiles.levels)
