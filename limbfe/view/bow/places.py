"""Places on the bow in space: where labels stand, what a click has met, and its numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.analysis.results.skin import place
from limbfe.frames import Array
from limbfe.units import unit_system
from limbfe.view import labels

if TYPE_CHECKING:
    from limbfe.analysis.bow.drawn import Pose
    from limbfe.analysis.results.assessment import Assessment
    from limbfe.analysis.wood.stress import SurfaceField
    from limbfe.view.bow.limb import Mark


def label_places(points: Array, pose: Pose) -> Array:
    """Return places for labels in a column ahead of the back, none upon another, shape (k, 3)."""
    low, high = pose.positions.min(axis=0), pose.positions.max(axis=0)
    height = high[2] - low[2]
    column = np.full(len(points), low[0] - 0.16 * height)
    levels = labels.spread_labels(points[:, 2], 0.045 * height, float(low[2]), float(high[2]))
    return np.stack([column, np.zeros(len(points)), levels], axis=-1)


def leaders(places: Array, marks: tuple[Mark, ...]) -> Any:
    """Return the lines from labels to what they name."""
    import pyvista as pv

    ends = np.array([mark.point for mark in marks])
    cells = np.arange(2 * len(marks)).reshape(2, -1).T
    padded = np.concatenate([np.full((len(marks), 1), 2), cells], axis=1)
    return pv.PolyData(np.concatenate([places, ends]), lines=padded.ravel())


def nearest_place(pose: Pose, surface: SurfaceField, point: Array) -> tuple[int, int]:
    """Return station and place round the ring (both as indices) nearest to a point in space."""
    rings = surface.ring.shape[:2]
    sections = np.concatenate(
        [np.broadcast_to(surface.x[:, None, None], (*rings, 1)), surface.ring], axis=-1
    )
    distance = np.linalg.norm(place(pose, sections) - point, axis=-1)
    station, around = np.unravel_index(np.argmin(distance), rings)
    return int(station), int(around)


def station_text(
    assessment: Assessment, surface: SurfaceField, at: tuple[int, int], units: labels.Units
) -> str:
    """Return what is known at a place of the skin, in words.

    Parameters
    ----------
    assessment : Assessment
    surface : SurfaceField
        Fields of the state that is shown.
    at : tuple of int
        Station and place round the ring, from `nearest_place`.
    units : {"metric", "imperial"}
    """
    x = float(surface.x[at[0]])
    stave = assessment.setup.stave
    width = float(np.interp(x, stave.x, stave.width))
    thickness = float(np.interp(x, stave.x, stave.thickness))
    stress = unit_system(units).stress(float(surface.axial_stress[at]))
    return (
        f"{'lower' if x < 0 else 'upper'} limb, {labels.length_text(abs(x), units)}\n"
        f"width {labels.length_text(width, units)}, "
        f"thickness {labels.length_text(thickness, units)}\n"
        f"strain {100 * surface.axial_strain[at]:+.2f} %\n"
        f"stress along the grain {stress}\n"
        f"strength used {surface.strength_used[at]:.2f}"
    )
