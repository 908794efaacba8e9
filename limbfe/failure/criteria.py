"""Strength used by mode at points of clear wood: stress over strength, 1 = expected to fail."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.frames import VOIGT_PAIRS, Array
from limbfe.wood.strength import HANKINSON_EXPONENTS, hankinson

_TENSOR = np.array(
    [[VOIGT_PAIRS.index((min(i, j), max(i, j))) for j in range(3)] for i in range(3)]
)
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

    def mode_at(self, index: tuple[int, ...]) -> str:
        """Return the name of the governing mode at one point."""
        values = [float(getattr(self, mode)[index]) for mode in MODES]
        return MODES[int(np.argmax(values))]


def strength_used(
    *,
    stress: Array,
    grain: Array,
    tension: Array,
    compression: Array,
    shear: Array,
    tension_across: Array,
    compression_across: Array,
) -> StrengthUsed:
    """Compare the stress at points with the strengths of the wood there, mode by mode.

    The modes are kept apart, as in the modified Hashin form that fitted off-axis tests of
    Douglas-fir best: a single quadratic criterion cannot say how the wood fails.

    Parameters
    ----------
    stress : ndarray, shape (..., 6), Pa, section axes, Voigt
    grain : ndarray, shape (..., 3, 3)
        Columns are L, R, T in section axes.
    tension, compression, shear, tension_across, compression_across : ndarray, shape (...), Pa
        Strengths of the wood at the points, along the grain unless named across.

    Returns
    -------
    StrengthUsed
        Arrays of shape (...).

    References
    ----------
    R. L. Hankinson, Investigation of crushing strength of spruce at varying angles of grain,
    Air Service Information Circular 3(259) (1921): the off-axis formula (from memory).
    Federal Highway Administration, FHWA-HRT-04-097 (2005), appendix D: comparison of criteria.
    """
    cosine = np.clip(np.abs(grain[..., 0, 0]), 0.0, 1.0)
    angle = np.arccos(cosine)
    axial = stress[..., 0]
    wood = np.swapaxes(grain, -1, -2) @ stress[..., _TENSOR] @ grain
    n = HANKINSON_EXPONENTS
    in_tension = hankinson(tension, tension_across, angle, n["tension"])
    in_compression = hankinson(compression, compression_across, angle, n["compression"])
    middle = (wood[..., 1, 1] + wood[..., 2, 2]) / 2.0
    radius = np.hypot((wood[..., 1, 1] - wood[..., 2, 2]) / 2.0, wood[..., 1, 2])
    return StrengthUsed(
        tension=np.maximum(axial, 0.0) / in_tension,
        compression=np.maximum(-axial, 0.0) / in_compression,
        shear=np.hypot(wood[..., 0, 2], wood[..., 0, 1]) / shear,
        across=np.maximum(middle + radius, 0.0) / tension_across,
    )
