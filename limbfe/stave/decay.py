"""Patches of rot: ellipsoids clipped by the limb."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import GeometryError
from limbfe.frames import Array, read_only
from limbfe.stave.faces import Face, face_point
from limbfe.stave.knot import Limb, marked_station
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave
from limbfe.wood.decay import DecayEffect


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Decay:
    """A patch of decayed wood.

    Attributes
    ----------
    name : str
    limb : {"upper", "lower"}
    face : {"back", "belly", "left", "right"}
        Where it shows.
    center : ndarray, shape (3,), m, section coordinates (x, y, z)
        Centre of the ellipsoid, on the face where the patch shows.
    semi_axes : ndarray, shape (3,), m
        Half length along x, half width along y and depth along z for a patch on back or belly;
        on a side face the depth runs along y.
    effect : DecayEffect
    stage, rot : str
        As the user called them, for reports; "given" for explicit multipliers.
    """

    name: str
    limb: Limb
    face: Face
    center: Array
    semi_axes: Array
    effect: DecayEffect
    stage: str
    rot: str

    def __post_init__(self) -> None:
        object.__setattr__(self, "center", read_only(self.center, (3,)))
        object.__setattr__(self, "semi_axes", read_only(self.semi_axes, (3,)))
        if not np.all(self.semi_axes > 0.0):
            raise GeometryError(
                f'decay "{self.name}": half sizes {self.semi_axes.tolist()} m: all must be above '
                "zero"
            )


def inside_decay(decay: Decay, x: Any, y: Any, z: Any) -> NDArray[np.bool_]:
    """Return which points lie in the ellipsoid.

    Parameters
    ----------
    decay : Decay
    x, y, z : array_like, m, section coordinates
        Broadcast against each other.
    """
    c, a = decay.center, decay.semi_axes
    offset = [(np.asarray(p, dtype=np.float64) - c[i]) / a[i] for i, p in enumerate((x, y, z))]
    inside: NDArray[np.bool_] = offset[0] ** 2 + offset[1] ** 2 + offset[2] ** 2 < 1.0
    return inside


def make_decay(
    stave: Stave,
    *,
    name: str,
    limb: Limb,
    at: float,
    face: Face,
    across: float,
    length: float,
    width: float,
    depth: float,
    effect: DecayEffect,
    stage: str,
    rot: str,
) -> Decay:
    """Return a patch of rot measured on a face of a limb.

    Parameters
    ----------
    stave : Stave
        Its columns, crown and belly are used.
    name : str
    limb : {"upper", "lower"}
    at : float, m
        Distance of its middle from the middle of the grip along the back, positive on both limbs.
    face : {"back", "belly", "left", "right"}
    across : float, m
        Its middle from the middle line of that face, see `limbfe.stave.faces.face_point`.
    length, width : float, m
        Of the patch on the face, along and across the limb.
    depth : float, m
        Below the face in the middle of the patch.
    effect : DecayEffect
    stage, rot : str
        For reports.

    Returns
    -------
    Decay
        The inner half of an ellipsoid whose middle lies on the face.

    Raises
    ------
    GeometryError
        If the patch lies beyond a tip or has no size.
    """
    x = marked_station(name, limb, at)
    point, _ = face_point(shape_at(stave, np.array([x])), face, across)
    half = [0.5 * length, 0.5 * width, depth]
    if face in ("left", "right"):
        half = [half[0], half[2], half[1]]
    return Decay(
        name=name,
        limb=limb,
        face=face,
        center=np.array([x, *point]),
        semi_axes=np.array(half),
        effect=effect,
        stage=stage,
        rot=rot,
    )
