"""What sizing hands on: the bow before and after, station by station."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.shot.speed import arrow_speed, usual_arrow
from limbfe.analysis.wood.when_braced import when_braced
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.case.schema import Case
from limbfe.errors import ConvergenceError
from limbfe.frames import Array
from limbfe.rows import Row
from limbfe.studies.size.blank import Blank
from limbfe.studies.size.recut import columns_of
from limbfe.studies.size.trial import Trial
from limbfe.studies.size.wanted import Wanted
from limbfe.units import IMPERIAL, Sentence, Words
from limbfe.version import __version__

Method = Literal["scale", "even"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sized:
    """One bow brought to a draw weight.

    Attributes
    ----------
    method : {"scale", "even"}
    source, case : Case
        As it was given, and as it is to become.
    wanted : Wanted
    x : ndarray, shape (n,), m
        Stations of `case`, lower tip to upper tip.
    width : ndarray, shape (n,), m
        Which stays.
    thickness_now, thickness : ndarray, shape (n,), m
        As the case states it, and as it is to become.
    free : ndarray of bool, shape (n,)
        Stations outside the stiff grip.
    left_for : tuple of str, length n
        Knots and patches a station is left thicker for; empty text for none.
    level : ndarray of bool, shape (n,)
        Stations at which strength used was made the same; none when a factor was asked for.
    floor : ndarray, shape (n,), m
        The least thickness each station was allowed.
    before : Trial or None
        The bow as it stands; None where that cannot be braced and drawn.
    after : Trial
        The bow as it is to become, at the case's own settings.
    factor : float or None
        On the thickness; None when every station has its own.
    worth : ndarray, shape (n,), N/m
        Draw weight for each thickness at a station, the stations beside it kept: exact
        derivatives of the sized bow.
    rounds : int
        Bows solved on the way.
    zones : tuple of ZoneVerdict
        Every knot and patch of the bow as it is to become.
    """

    method: Method
    source: Case
    case: Case
    wanted: Wanted
    x: Array
    width: Array
    thickness_now: Array
    thickness: Array
    free: NDArray[np.bool_]
    left_for: tuple[str, ...]
    level: NDArray[np.bool_]
    floor: Array
    before: Trial | None
    after: Trial
    factor: float | None
    worth: Array
    rounds: int
    zones: tuple[ZoneVerdict, ...]

    @property
    def when_braced(self) -> tuple[Words, ...]:
        """Where the bow breaks or gives way while it is braced: sized, and as it stands."""
        now = () if self.before is None else when_braced(self.before.solved)
        return (
            *when_braced(self.after.solved),
            *(Sentence("As it stands: {}", words) for words in now),
        )

    @property
    def arrow(self) -> float:
        """Mass of the arrow that `speed` is of, kg: the case's, or ten grains a pound."""
        given = self.after.solved.model.setup.shooting.arrow
        return usual_arrow(self.after.force) if given is None else given

    def speed(self) -> float | None:
        """Return the speed (m/s) at which that arrow leaves the sized bow.

        None where the shot cannot be followed.
        """
        try:
            return arrow_speed(self.after.solved, self.arrow)
        except ConvergenceError:
            return None

    @property
    def shaving(self) -> Array:
        """What is still to come off the blank, shape (n,), m; negative where wood is lacking."""
        return self.blank - self.thickness

    @property
    def blank(self) -> Array:
        """Thickness of the blank, shape (n,), m: the case's and, outside the grip, the allowance.

        The handle is left out: its thickness is not sized, and nothing is said of its shaving.
        """
        half_grip = self.case.file.grip.half
        limb = (np.abs(self.x) > half_grip + 1e-9) | (half_grip == 0.0)
        return self.thickness_now + np.where(limb, self.wanted.allowance, 0.0)

    @property
    def spread(self) -> float | None:
        """Largest less smallest strength used over their mean, at the `level` stations.

        A station's is the highest within half the way to its neighbours.
        """
        return spread_of(self.after.peaks(self.x), self.level)

    @property
    def used_now(self) -> Array | None:
        """Strength used around each station as the bow stands, shape (n,), where it can be."""
        return None if self.before is None else self.before.peaks(self.x)

    @property
    def at_floor(self) -> NDArray[np.bool_]:
        """Stations that would be thinner were they allowed to be, shape (n,); nocks left out."""
        held: NDArray[np.bool_] = (
            self.free & ~self.level & np.array([not name for name in self.left_for])
        )
        held &= self.thickness <= self.floor + 1e-6
        held[[0, -1]] = False
        return held

    @property
    def zone_marks(self) -> tuple[tuple[float, str], ...]:
        """Signed station (m) and name of every knot and patch."""
        return tuple(
            (zone.at if zone.limb == "upper" else -zone.at, f"{zone.kind} {zone.name}")
            for zone in self.zones
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers and text with the unit in every key."""
        pound_force, _ = IMPERIAL.scale("force")
        return {
            "case": self.source.title,
            "version": __version__,
            "when_braced": [str(one) for one in self.when_braced],
            "method": self.method,
            "draw_length_mm": self.wanted.draw_length * 1e3,
            "wanted_weight_N": self.wanted.weight,
            "draw_weight_N": self.after.force,
            "draw_weight_lbf": self.after.force / pound_force,
            "draw_weight_now_N": None if self.before is None else self.before.force,
            "arrow_mass_g": 1e3 * self.arrow,
            "arrow_speed_m_per_s": self.speed(),
            "factor": self.factor,
            "spread": self.spread,
            "bows_solved": self.rounds,
            "stations": self._stations(),
            "limb": {
                "before": None if self.before is None else limb_dict(self.before),
                "after": limb_dict(self.after),
            },
            "defects": [zone.to_dict() for zone in self.zones],
        }

    def rows(self) -> list[Row]:
        """Return the stations, a row each."""
        return self._stations()

    def _stations(self) -> list[dict[str, Any]]:
        columns = {
            "station_mm": self.x * 1e3,
            "width_now_mm": self.width * 1e3,
            "width_mm": self.width * 1e3,
            "thickness_now_mm": self.thickness_now * 1e3,
            "thickness_blank_mm": self.blank * 1e3,
            "thickness_mm": self.thickness * 1e3,
            "shaving_mm": self.shaving * 1e3,
            "strength_used": self.after.peaks(self.x),
            "weight_per_thickness_N_per_mm": self.worth / 1e3,
        }
        rows = [{name: float(values[k]) for name, values in columns.items()} for k in self._each]
        now = self.used_now
        extra = [
            {
                "strength_used_now": None if now is None else float(now[k]),
                "evened": bool(self.level[k]),
                "left_for": self.left_for[k],
            }
            for k in self._each
        ]
        return [{**row, **more} for row, more in zip(rows, extra, strict=True)]

    @property
    def _each(self) -> range:
        return range(len(self.x))


def limb_dict(trial: Trial) -> dict[str, list[float]]:
    """Return strength used at the Gauss stations, lower tip to upper tip."""
    return {
        "station_mm": [float(v) * 1e3 for v in trial.x],
        "strength_used": [float(v) for v in trial.used],
    }


def spread_of(used: Array, level: NDArray[np.bool_]) -> float | None:
    """Return largest less smallest over mean of the chosen values; None when none is chosen."""
    chosen = used[level]
    if chosen.size == 0:
        return None
    return float(np.ptp(chosen) / chosen.mean())


def sized(blank: Blank, *, source: Case, case: Case, **found: Any) -> Sized:
    """Return a sized bow with what both ways of sizing fill in alike; no zone is judged yet."""
    return Sized(
        source=source,
        case=case,
        x=blank.x,
        width=columns_of(source)["width"],
        thickness_now=blank.present,
        thickness=columns_of(case)["thickness"],
        free=blank.free,
        left_for=("",) * len(blank.x),
        floor=blank.least,
        zones=(),
        **found,
    )
