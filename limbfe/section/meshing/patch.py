"""The map of a square onto a limb's cross-section, columns from belly to back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.frames import Array
from limbfe.section.meshing.outline import Outline, back_curve, belly_curve, side_curve

# How far from a side, as a share of the width, its curve bends the columns.
_BENT = 0.35


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patch:
    """S sections cut into columns that run from belly to back.

    Attributes
    ----------
    outline : Outline
    belly, back : ndarray, shape (S, c, 1, 2), m
        The ends of every column.
    near_left, near_right : ndarray, shape (S, c, 1, 1)
        How much of the -y and +y side's curve a column takes on, from 1 to 0.
    """

    outline: Outline
    belly: Array
    back: Array
    near_left: Array
    near_right: Array


def section_patch(outline: Outline, belly: Array, back: Array) -> Patch:
    """Return the map whose columns stand at given fractions (S, c) of the belly and the back.

    Notes
    -----
    A Coons patch (S. A. Coons, Surfaces for computer-aided design of space forms, MIT MAC-TR-41,
    1967; from memory) whose side terms fade out before the middle, so that columns there are
    straight lines.
    """
    across = 0.5 * (belly + back)[:, :, None, None]
    return Patch(
        outline=outline,
        belly=belly_curve(outline, belly)[:, :, None],
        back=back_curve(outline, back)[:, :, None],
        near_left=np.maximum(1.0 - across / _BENT, 0.0) ** 2,
        near_right=np.maximum(1.0 - (1.0 - across) / _BENT, 0.0) ** 2,
    )


def patch_points(patch: Patch, height: Array) -> Array:
    """Return points (S, c, n, 2) at heights (S, c, n) from 0 on the belly to 1 on the back."""
    h = height[..., None]
    start, end = patch.belly[:, :1], patch.back[:, :1]
    side = side_curve(patch.outline, height.reshape(len(height), -1)).reshape(*height.shape, 2)
    bulge = side - (start + h * (end - start))
    straight = patch.belly + h * (patch.back - patch.belly)
    mirrored = bulge * np.array([-1.0, 1.0])
    points: Array = straight + patch.near_left * bulge + patch.near_right * mirrored
    return points
