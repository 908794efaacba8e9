"""Strength used by mode at points of clear wood: stress over strength, 1 = expected to fail."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.frames import Array
from limbfe.wood.strength import HANKINSON_EXPONENTS, hankinson

MODES = ("tension", "compression", "shear", "across")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrengthUsed:
    """Stress over strength, mode by mode, at points of one shape.

    Attributes
    ----------
    tension, compression : axial stress over the Hankinson strength at the local grain angle
    shear : shear along the grain over shear strength
    across : tension across the grain over its strength
    """

    tension: Array
    compression: Array
    shear: Array
    across: Array

    @property
    def worst(self) -> Array:
        """The largest of the four modes at every point."""
        worst: Array = np.maximum.reduce([self.tension, self.compression, self.shear, self.across])
        return worst


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GrainStrength:
    """Strengths of the wood at points as stresses are compared with them.

    Attributes
    ----------
    grain : ndarray, shape (..., 3, 3)
        Columns are L, R, T in section axes.
    tension, compression : ndarray, shape (...), Pa
        Along the section's x, at the local grain angle.
    shear, across : ndarray, shape (...), Pa
        Along the grain; tension across it.
    """

    grain: Array
    tension: Array
    compression: Array
    shear: Array
    across: Array


def strength_at_grain(
    *,
    grain: Array,
    tension: Array,
    compression: Array,
    shear: Array,
    tension_across: Array,
    compression_across: Array,
) -> GrainStrength:
    """Return the strengths of wood whose grain runs at an angle to the section's x.

    Parameters
    ----------
    grain : ndarray, shape (..., 3, 3)
        Columns are L, R, T in section axes; broadcast against the points.  R and T may be turned
        about L by any angle.
    tension, compression, shear, tension_across, compression_across : ndarray, shape (...), Pa
        Strengths of the wood at the points, along the grain unless named across.

    References
    ----------
    R. L. Hankinson, Investigation of crushing strength of spruce at varying angles of grain,
    Air Service Information Circular 3(259) (1921): the off-axis formula (from memory).
    """
    angle = np.arccos(np.clip(np.abs(grain[..., 0, 0]), 0.0, 1.0))
    n = HANKINSON_EXPONENTS
    return GrainStrength(
        grain=grain,
        tension=hankinson(tension, tension_across, angle, n["tension"]),
        compression=hankinson(compression, compression_across, angle, n["compression"]),
        shear=shear,
        across=tension_across,
    )


def compare(strength: GrainStrength, stress: Array) -> StrengthUsed:
    """Compare the stress at points with the strengths of the wood there, mode by mode.

    The modes are kept apart, as in the modified Hashin form that fitted off-axis tests of
    Douglas-fir best: a single quadratic criterion cannot say how the wood fails.

    Parameters
    ----------
    strength : GrainStrength
    stress : ndarray, shape (..., 6), Pa, section axes, Voigt

    Returns
    -------
    StrengthUsed
        Arrays of shape (...).

    References
    ----------
    Federal Highway Administration, FHWA-HRT-04-097 (2005), appendix D: comparison of criteria.
    """
    components = np.ascontiguousarray(np.moveaxis(stress, -1, 0))
    axial = components[0]
    shear, across = _shear_and_across(components, strength.grain)
    return StrengthUsed(
        tension=np.maximum(axial, 0.0) / strength.tension,
        compression=np.maximum(-axial, 0.0) / strength.compression,
        shear=shear / strength.shear,
        across=np.maximum(across, 0.0) / strength.across,
    )


def _shear_and_across(stress: Array, grain: Array) -> tuple[Array, Array]:
    """Return the shear along the grain and the greatest stress across it, shape (...).

    Parameters
    ----------
    stress : ndarray, shape (6, ...)
    grain : ndarray, shape (..., 3, 3)
    """
    xx, yy, zz, yz, xz, xy = stress
    L, R, T = (tuple(grain[..., i, axis] for i in range(3)) for axis in range(3))

    def traction(n: tuple[Array, ...]) -> tuple[Array, ...]:
        return (
            xx * n[0] + xy * n[1] + xz * n[2],
            xy * n[0] + yy * n[1] + yz * n[2],
            xz * n[0] + yz * n[1] + zz * n[2],
        )

    def along(n: tuple[Array, ...], force: tuple[Array, ...]) -> Array:
        return n[0] * force[0] + n[1] * force[1] + n[2] * force[2]

    on_R, on_T = traction(R), traction(T)
    RR, TT, RT = along(R, on_R), along(T, on_T), along(R, on_T)
    shear: Array = np.hypot(along(L, on_R), along(L, on_T))
    across: Array = 0.5 * (RR + TT) + np.hypot(0.5 * (RR - TT), RT)
    return shear, across
