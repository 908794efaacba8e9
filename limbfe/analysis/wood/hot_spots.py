"""Where clear wood is worked hardest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, NamedTuple, cast

import numpy as np

from limbfe.analysis.bow.stations import Stations
from limbfe.analysis.wood.stress import WoodStress, clear_stations
from limbfe.frames import Array
from limbfe.stave.marks import Limb
from limbfe.stave.outline import back_z, belly_z, side_y
from limbfe.stave.profile import one_shape
from limbfe.units import Length, Sentence, Words
from limbfe.wood.bar import WRINKLES

PEAKS_PER_MODE = {"tension": 2, "compression": 2, "shear": 1, "across": 1}
SKIN_MODES = ("tension", "compression")
CLOSE = 0.06
"""Two peaks of one mode nearer than this (m) are one place to a bowyer."""
SKIN = 0.03
"""A point within this share of the thickness of a face is on that face."""
NEGLIGIBLE = 0.02

Mode = Literal["tension", "compression", "shear", "across"]
Face = Literal["back", "belly", "left", "right", "inside"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HotSpot:
    """A local maximum of strength used in clear wood at full draw (SI; `at` from the grip)."""

    limb: Limb
    at: float
    across: float
    depth: float
    face: Face
    stress: float
    strain: float
    mode: Mode
    strength_used: float

    @property
    def how_hard(self) -> str:
        """How hard the wood is worked, in words."""
        if self.mode == "compression":
            words = f"{self.strength_used:.0%} of what it can bear"
            if self.strength_used < WRINKLES:
                return words
            may = "may show" if self.strength_used < 1.0 else "are likely"
            return f"{words}, where wrinkles (frets) {may}"
        kind = "strength across the grain" if self.mode == "across" else f"{self.mode} strength"
        return f"{self.strength_used:.0%} of its {kind}"

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        return {
            "limb": self.limb,
            "at_mm": self.at * 1e3,
            "across_mm": self.across * 1e3,
            "depth_mm": self.depth * 1e3,
            "face": self.face,
            "stress_MPa": self.stress / 1e6,
            "strain": self.strain,
            "mode": self.mode,
            "strength_used": self.strength_used,
        }


class Place(NamedTuple):
    """A hot spot by its numbers: Gauss station, and point of the skin or the inside there."""

    limb: str
    mode: str
    station: int
    point: int
    used: float

    @property
    def on_skin(self) -> bool:
        """Whether `point` counts outline nodes; else it counts integration points."""
        return self.mode in SKIN_MODES


def find_hot_spots(stations: Stations, skin: WoodStress, inside: WoodStress) -> tuple[HotSpot, ...]:
    """Return local maxima of strength used in clear wood, hardest worked first.

    Those that use next to nothing are left out, but for the hardest where none uses more.

    Fibre modes are taken on the skin, where bending puts them; shear and tension across the
    grain from inside.
    """
    places = locate_hot_spots(stations, skin, inside)
    return tuple(describe(stations, skin if place.on_skin else inside, place) for place in places)


def locate_hot_spots(stations: Stations, skin: WoodStress, inside: WoodStress) -> tuple[Place, ...]:
    """Return the places of `find_hot_spots`, in its order."""
    places = []
    for limb in ("upper", "lower"):
        sign = 1.0 if limb == "upper" else -1.0
        on_limb = np.flatnonzero(
            (sign * stations.x >= stations.setup.stave.half_grip) & clear_stations(stations)
        )
        on_limb = on_limb[np.argsort(sign * stations.x[on_limb])]
        for mode, count in PEAKS_PER_MODE.items():
            stress = skin if mode in SKIN_MODES else inside
            used = np.where(stress.clear, getattr(stress.used, mode), 0.0)[on_limb]
            best = used.argmax(axis=1)
            along = np.take_along_axis(used, best[:, None], axis=1)[:, 0]
            for k in _peaks(np.abs(stations.x[on_limb]), along, count):
                places.append(Place(limb, mode, int(on_limb[k]), int(best[k]), float(along[k])))
    places.sort(key=lambda place: -place.used)
    worked = [place for place in places if place.used > NEGLIGIBLE]
    return tuple(worked or places[:1])


def locate_worst(stations: Stations, skin: WoodStress, inside: WoodStress) -> tuple[Place, ...]:
    """Return the hardest worked place of every clear station outside the grip, in their order."""
    places = []
    for station in np.flatnonzero(stations.bends & clear_stations(stations)):
        limb = "upper" if stations.x[station] > 0.0 else "lower"
        best: list[Place] = []
        for mode in PEAKS_PER_MODE:
            stress = skin if mode in SKIN_MODES else inside
            used = np.where(stress.clear[station], getattr(stress.used, mode)[station], 0.0)
            point = int(used.argmax())
            best.append(Place(limb, mode, int(station), point, float(used[point])))
        places.append(max(best, key=lambda place: place.used))
    return tuple(places)


def _peaks(at: Array, values: Array, count: int) -> list[int]:
    """Return indices of the highest local maxima, ends included, at least `CLOSE` apart."""
    padded = np.concatenate([[-1.0], values, [-1.0]])
    found = np.flatnonzero((padded[:-2] < values) & (values >= padded[2:]))
    kept: list[int] = []
    for k in found[np.argsort(-values[found])]:
        if all(abs(at[k] - at[j]) > CLOSE for j in kept):
            kept.append(int(k))
    return kept[:count]


def describe(stations: Stations, stress: WoodStress, place: Place) -> HotSpot:
    """Return a place with what the results say of it; `stress` is the field it was found in."""
    station, point, mode = place.station, place.point, place.mode
    y, z = (float(v) for v in stress.points[station, point])
    sigma = stress.stress[station, point]
    value = sigma[0] if place.on_skin else _shear_or_across(sigma, mode)
    top, bottom, side = _faces(stations, station, y, z)
    thickness = float(stations.shapes.thickness[station])
    return HotSpot(
        limb=cast(Limb, place.limb),
        at=abs(float(stations.x[station])),
        across=round(y, 6),
        depth=max(top - z, 0.0),
        face=_face(y, top - z, z - bottom, side - abs(y), SKIN * thickness),
        stress=float(value),
        strain=float(stress.strain[station, point, 0]),
        mode=cast(Mode, mode),
        strength_used=place.used,
    )


def _shear_or_across(sigma: Array, mode: str) -> float:
    if mode == "shear":
        return float(np.hypot(sigma[4], sigma[5]))
    middle, radius = (sigma[1] + sigma[2]) / 2, np.hypot((sigma[1] - sigma[2]) / 2, sigma[3])
    return float(middle + radius)


def _faces(stations: Stations, station: int, y: float, z: float) -> tuple[float, float, float]:
    """Return z of back and belly above and below the point, and the half width at its height."""
    one = one_shape(stations.shapes, station)
    top = float(back_z(one, np.array([y]))[0])
    bottom = float(belly_z(one, np.array([y]))[0])
    return top, bottom, float(side_y(one, np.array([z]))[0])


def _face(y: float, below_back: float, above_belly: float, inward: float, skin: float) -> Face:
    if below_back <= skin:
        return "back"
    if above_belly <= skin:
        return "belly"
    if inward <= skin:
        return "right" if y > 0.0 else "left"
    return "inside"


def wood_warnings(hot_spots: tuple[HotSpot, ...]) -> tuple[Words, ...]:
    """Return what clear wood past its strength means, the worst place of every mode."""
    words = {
        "tension": "clear wood on the {face} is expected to break in tension before full draw",
        "compression": "the {face} is bent further than a bar of this wood bears: expect wrinkles "
        "across it (frets), a large set, and a break",
        "shear": "clear wood is expected to shear along the grain before full draw",
        "across": "clear wood is expected to split across the grain before full draw",
    }
    near = "the {face} is near what it can bear: look for fine wrinkles across it (frets)"
    warnings = []
    for mode, text in words.items():
        least = WRINKLES if mode == "compression" else 1.0
        spot = next((s for s in hot_spots if s.mode == mode and s.strength_used >= least), None)
        if spot is not None:
            said = text if spot.strength_used >= 1.0 else near
            place = Sentence("{} up the {} limb: ", Length(spot.at), spot.limb)
            warnings.append(Sentence("{}" + said, place, face=spot.face))
    return tuple(warnings)
