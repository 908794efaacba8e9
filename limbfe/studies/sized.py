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
    free : ndarray of bool, shape (n,)
        Stations outside the stiff grip.
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
    thickness: Array
    free: NDArray[np.bool_]
    level: NDArray[np.bool_]
    before: Trial
    after: Trial
    factor: float | None
    worth: Array
    rounds: int
    zones: tuple[DefectResult, ...]

    @property
    def shaving(self) -> Array:
        """What is still to be taken off, shape (n,), m; negative where wood is lacking."""
        return self.thickness_now - self.thickness

    @property
    def spread(self) -> float | None:
        """Largest less smallest strength used over their mean, at the `level` stations."""
        return spread_of(self.after.used_at(self.x), self.level)

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
            "stations": [self._station(k) for k in range(len(self.x))],
            "limb": {"before": limb_dict(self.before), "after": limb_dict(self.after)},
            "defects": [defect_to_dict(zone) for zone in self.zones],
        }

    def _station(self, k: int) -> dict[str, Any]:
        x = float(self.x[k])
        return {
            "station_mm": x * 1e3,
            "width_now_mm": float(self.width_now[k]) * 1e3,
            "width_mm": float(self.width[k]) * 1e3,
            "thickness_now_mm": float(self.thickness_now[k]) * 1e3,
            "thickness_mm": float(self.thickness[k]) * 1e3,
            "shaving_mm": float(self.shaving[k]) * 1e3,
            "strength_used_now": float(np.interp(x, self.before.x, self.before.used)),
            "strength_used": float(np.interp(x, self.after.x, self.after.used)),
            "weight_per_thickness_N_per_mm": float(self.worth[k]) / 1e3,
            "evened": bool(self.level[k]),
        }


def limb_dict(trial: Trial) -> dict[str, list[float]]:
    """Return strength used along the limb, grip left as solved."""
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
