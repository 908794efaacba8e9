"""What sizing hands on: the bow before and after, station by station."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from limbfe.analysis.contract import defect_to_dict
from limbfe.analysis.results import DefectResult
from limbfe.case.schema import Case
from limbfe.frames import Array
from limbfe.studies.trial import Trial
from limbfe.units import IMPERIAL
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
    draw_length : float, m
    weight : float, N
        Asked for.
    x : ndarray, shape (n,), m
        Stations of `case`, lower tip to upper tip.
    width_now, width, thickness_now, thickness : ndarray, shape (n,), m
        As the case states them, and as they are to become.
    allowance : float, m
        How much thicker the blank still is than the case states.
    free : ndarray of bool, shape (n,)
        Stations outside the stiff grip.
    left_for : tuple of str, length n
        Knots and patches a station is left thicker for; empty text for none.
    level : ndarray of bool, shape (n,)
        Stations at which strength used was made the same; none when a factor was asked for.
    before, after : Trial
        The bow as it was and as it is to become, at the case's own settings.
    factor : float or None
        On the thickness; None when every station has its own.
    worth : ndarray, shape (n,), N/m
        Draw weight for each thickness at a station, the stations beside it kept: exact
        derivatives of the sized bow.
    rounds : int
        Bows solved on the way.
    zones : tuple of DefectResult
        Every knot and patch of the bow as it is to become.
    """

    method: Method
    source: Case
    case: Case
    draw_length: float
    weight: float
    x: Array
    width_now: Array
    width: Array
    thickness_now: Array
    allowance: float
    thickness: Array
    free: NDArray[np.bool_]
    left_for: tuple[str, ...]
    level: NDArray[np.bool_]
    before: Trial
    after: Trial
    factor: float | None
    worth: Array
    rounds: int
    zones: tuple[DefectResult, ...]

    @property
    def shaving(self) -> Array:
        """What is still to come off the blank, shape (n,), m; negative where wood is lacking."""
        return self.blank - self.thickness

    @property
    def blank(self) -> Array:
        """Thickness of the blank, shape (n,), m: the case's and, outside the grip, the allowance.

        The handle is left out: its thickness is not sized, and nothing is said of its shaving.
        """
        half_grip = 0.5 * self.case.file.grip.stiff_length
        limb = (np.abs(self.x) > half_grip + 1e-9) | (half_grip == 0.0)
        return self.thickness_now + np.where(limb, self.allowance, 0.0)

    @property
    def spread(self) -> float | None:
        """Largest less smallest strength used over their mean, at the `level` stations.

        A station's is the highest within half the way to its neighbours.
        """
        return spread_of(self.after.peaks(self.x), self.level)

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
            "method": self.method,
            "draw_length_mm": self.draw_length * 1e3,
            "wanted_weight_N": self.weight,
            "draw_weight_N": self.after.force,
            "draw_weight_lbf": self.after.force / pound_force,
            "draw_weight_now_N": self.before.force,
            "factor": self.factor,
            "spread": self.spread,
            "bows_solved": self.rounds,
            "stations": self._stations(),
            "limb": {"before": limb_dict(self.before), "after": limb_dict(self.after)},
            "defects": [defect_to_dict(zone) for zone in self.zones],
        }

    def _stations(self) -> list[dict[str, Any]]:
        columns = {
            "station_mm": self.x * 1e3,
            "width_now_mm": self.width_now * 1e3,
            "width_mm": self.width * 1e3,
            "thickness_now_mm": self.thickness_now * 1e3,
            "thickness_blank_mm": self.blank * 1e3,
            "thickness_mm": self.thickness * 1e3,
            "shaving_mm": self.shaving * 1e3,
            "strength_used_now": self.before.peaks(self.x),
            "strength_used": self.after.peaks(self.x),
            "weight_per_thickness_N_per_mm": self.worth / 1e3,
        }
        rows = [{name: float(values[k]) for name, values in columns.items()} for k in self._each]
        extra = [{"evened": bool(self.level[k]), "left_for": self.left_for[k]} for k in self._each]
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
