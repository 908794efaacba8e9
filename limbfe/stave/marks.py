"""Where a knot or a patch shows: a mark on a face of a limb, as the bowyer measures it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from limbfe.errors import GeometryError

Limb = Literal["upper", "lower"]
Face = Literal["back", "belly", "left", "right"]
FACES: tuple[Face, ...] = get_args(Face)


def signed_station(limb: str, at: float) -> float:
    """Return the station along the bow of a place on one limb, negative on the lower one, m."""
    return at if limb == "upper" else -at


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """The middle of what shows on a face.

    Attributes
    ----------
    name : str
        Of the knot or patch.
    limb : {"upper", "lower"}
    at : float, m
        Distance from the middle of the grip along the back, positive on both limbs.
    face : {"back", "belly", "left", "right"}
        Left and right are the archer's.
    across : float, m
        From the middle line of that face, see `limbfe.stave.faces.face_point`; beyond the edge for
        a knot that was carved away.

    Raises
    ------
    GeometryError
        If there is no such limb or the distance is negative.
    """

    name: str
    limb: Limb
    at: float
    face: Face
    across: float

    def __post_init__(self) -> None:
        if self.limb not in get_args(Limb):
            raise GeometryError(f'"{self.name}": limb = "{self.limb}": use "upper" or "lower"')
        if not self.at >= 0.0:
            raise GeometryError(
                f'"{self.name}": at = {self.at:g} m: give the distance from the grip as a positive '
                "length; limb says which way"
            )

    @property
    def x(self) -> float:
        """Its station along the bow, negative on the lower limb, m."""
        return signed_station(self.limb, self.at)


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchSize:
    """How large a patch is: along and across the limb on its face, and below it; m."""

    length: float
    width: float
    depth: float
