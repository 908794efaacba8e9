"""What a fit found, in SI, and as the plain numbers of its JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from limbfe.analysis.bow.setup import BowSetup
from limbfe.frames import Array
from limbfe.rows import Row
from limbfe.studies.fit.logged import SessionLog
from limbfe.studies.fit.readings import Readings
from limbfe.units import Words
from limbfe.version import __version__

Finding = Literal["stiffer", "softer", "as measured", "not known"]
TOLD = 0.01
"""Share of the variance that readings must take away to say anything."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Modulus:
    """A modulus along the grain, Pa: what the case had, what the readings make of it.

    Bounds hold 95 in 100.  `learned` is the share of the case's own scatter (as variance) that
    the readings took away: 0 nothing, 1 everything.
    """

    wood: str
    case: float
    value: float
    low: float
    high: float
    scatter: float
    case_scatter: float
    learned: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Crushing:
    """The strength at which the belly is crushed, over that of the case, with its bounds.

    `learned` is 0 for readings that crushed nothing.
    """

    ratio: float
    low: float
    high: float
    case_scatter: float
    learned: float

    @property
    def told(self) -> bool:
        """Whether the readings say anything about it."""
        return self.learned > TOLD


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """The stiffness of the limb about a station over that of its measured dimensions.

    `x` in m, negative on the lower limb; `thickness` as measured, m; `thicker`, m, is the error
    of thickness that would do the same, with its 95 in 100 bounds.
    """

    x: float
    thickness: float
    ratio: float
    low: float
    high: float
    thicker: float
    thicker_low: float
    thicker_high: float
    learned: float
    finding: Finding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Readings against the model that agrees with them best.

    Attributes
    ----------
    setup : BowSetup
        With the fitted wood; its stations are as measured.
    readings : Readings
    computed : ndarray, shape (r,), N and m
    off : ndarray, shape (r,)
        Reading less computed, in standard deviations of that difference.
    suspect : tuple of bool
    moduli : tuple of Modulus
    stations : tuple of Station
        From the lower to the upper tip.
    crushing : Crushing
    logs, covariance : ndarray, shapes (p,), (p, p)
        Logarithms of every factor over the case (moduli, crushing strength, stations), and their
        posterior covariance.
    rates : ndarray, shape (r, p)
        Of what is computed by these logarithms; none by a crushing strength that is not believed.
    misfit, probability : float
        Sum of squares of what the readings and the prior disagree by, with as many degrees of
        freedom as there are readings, and the probability of a larger one.
    curve_length, curve_force, curve_scatter : ndarray, shape (k,), m and N
        The fitted draw curve with the standard deviation that the fit leaves in it.
    when_braced, warnings, assumptions : tuple of str or Sentence
        The first, where the fitted bow breaks or gives way while it is braced, lead the warnings.
    log : SessionLog or None
        Where the file holds several dated sessions: this is the fit to the last of them.
    """

    setup: BowSetup
    readings: Readings
    computed: Array
    off: Array
    suspect: tuple[bool, ...]
    moduli: tuple[Modulus, ...]
    stations: tuple[Station, ...]
    crushing: Crushing
    logs: Array
    covariance: Array
    rates: Array
    misfit: float
    probability: float
    curve_length: Array
    curve_force: Array
    curve_scatter: Array
    when_braced: tuple[Words, ...]
    warnings: tuple[Words, ...]
    assumptions: tuple[Words, ...]
    log: SessionLog | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers and text with the unit in every key."""
        return {
            "case": self.setup.title,
            "version": __version__,
            "when_braced": [str(one) for one in self.when_braced],
            "readings_file": self.readings.file,
            "moduli": [_modulus(modulus) for modulus in self.moduli],
            "crushing_strength": {
                "ratio": self.crushing.ratio,
                "ratio_low": self.crushing.low,
                "ratio_high": self.crushing.high,
                "case_scatter": self.crushing.case_scatter,
                "learned": self.crushing.learned,
            },
            "stations": [_station(station) for station in self.stations],
            "readings": [self._reading(k) for k in range(len(self.readings.rows))],
            "fit": {
                "misfit": self.misfit,
                "readings": len(self.readings.rows),
                "probability_of_larger_misfit": self.probability,
            },
            "draw": {
                "draw_length_mm": (1e3 * self.curve_length).tolist(),
                "draw_force_N": self.curve_force.tolist(),
                "draw_force_scatter_N": self.curve_scatter.tolist(),
            },
            "warnings": [str(line) for line in self.warnings],
            "assumptions": [str(line) for line in self.assumptions],
            **({} if self.log is None else {"log": self.log.to_dict()}),
        }

    def rows(self) -> list[Row]:
        """Return what was found of the stations, a row each."""
        return [_station(station) for station in self.stations]

    def _reading(self, k: int) -> dict[str, Any]:
        row = self.readings.rows[k]
        scale, unit = (1.0, "N") if row.what == "force" else (1e3, "mm")
        out: dict[str, Any] = {
            "line": row.line,
            "what": row.what,
            "draw_length_mm": None if row.draw_length is None else 1e3 * row.draw_length,
        }
        if row.what == "position":
            out |= {"limb": limb(row.x), "at_mm": 1e3 * abs(row.x)}
        return out | {
            f"read_{unit}": scale * row.value,
            f"scatter_{unit}": scale * row.scatter,
            f"computed_{unit}": scale * float(self.computed[k]),
            "off_by_deviations": float(self.off[k]),
            "suspect": self.suspect[k],
        }


def limb(x: float) -> str:
    """Return the limb a station lies on."""
    return "lower" if x < 0.0 else "upper"


def _modulus(modulus: Modulus) -> dict[str, Any]:
    return {
        "wood": modulus.wood,
        "E_L_GPa": 1e-9 * modulus.value,
        "E_L_low_GPa": 1e-9 * modulus.low,
        "E_L_high_GPa": 1e-9 * modulus.high,
        "scatter": modulus.scatter,
        "case_E_L_GPa": 1e-9 * modulus.case,
        "case_scatter": modulus.case_scatter,
        "learned": modulus.learned,
    }


def _station(station: Station) -> dict[str, Any]:
    return {
        "limb": limb(station.x),
        "at_mm": 1e3 * abs(station.x),
        "thickness_mm": 1e3 * station.thickness,
        "stiffness_ratio": station.ratio,
        "stiffness_ratio_low": station.low,
        "stiffness_ratio_high": station.high,
        "as_if_thicker_by_mm": 1e3 * station.thicker,
        "as_if_thicker_by_low_mm": 1e3 * station.thicker_low,
        "as_if_thicker_by_high_mm": 1e3 * station.thicker_high,
        "learned": station.learned,
        "finding": station.finding,
    }
