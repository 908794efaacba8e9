"""What `chance` found, in SI, and as the plain numbers of its JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.failure.indices import Index
from limbfe.failure.reliability import Share
from limbfe.frames import Array
from limbfe.rows import Row
from limbfe.units import Words
from limbfe.version import __version__
from limbfe.wood.source import Assumption


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A quantity over all bows.

    Attributes
    ----------
    own : float
        Of the bow of the case.
    mean, sd, p5, p50, p95 : float
        Of one bow to the next.
    off : mapping of str to tuple of float
        Between which bounds ``mean``, ``p5`` and ``p95`` themselves lie, 95 in 100.
    """

    own: float
    mean: float
    sd: float
    p5: float
    p50: float
    p95: float
    off: Mapping[str, tuple[float, float]]

    def to_dict(self, scale: float = 1.0) -> dict[str, Any]:
        """Return plain numbers times `scale`."""
        figures = {name: scale * getattr(self, name) for name in
                   ("own", "mean", "sd", "p5", "p50", "p95")}  # fmt: skip
        bounds = {
            f"{name}_{end}": scale * value
            for name, pair in self.off.items()
            for end, value in zip(("low", "high"), pair, strict=True)
        }
        return {**figures, **bounds}


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to measure next.

    Attributes
    ----------
    what : str or Sentence
        In words.
    of : {"failure", "draw weight"}
    less : float
        Share of that one's variance that knowing it would take away on average.
    """

    what: Words
    of: str
    less: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadModulus:
    """A modulus (Pa) given the readings, its bounds 95 in 100, and what the case has."""

    wood: str
    case: float
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What readings of the bow say.

    Attributes
    ----------
    file : str
    readings : int
    moduli : tuple of ReadModulus
    draw_weight : Spread, N
        Of bows of this wood before the readings.
    any : Share
        Of these, how many fail at full draw.
    """

    file: str
    readings: int
    moduli: tuple[ReadModulus, ...]
    draw_weight: Spread
    any: Share

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        return {
            "file": self.file,
            "readings": self.readings,
            "moduli": [
                {
                    "wood": one.wood,
                    "case_E_L_GPa": 1e-9 * one.case,
                    "E_L_GPa": 1e-9 * one.value,
                    "E_L_low_GPa": 1e-9 * one.low,
                    "E_L_high_GPa": 1e-9 * one.high,
                }
                for one in self.moduli
            ],
            "before": {"draw_weight_N": self.draw_weight.to_dict(), "chance": self.any.to_dict()},
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Local:
    """Sampled bows whose knots and patches were judged on local models of their own.

    Attributes
    ----------
    bows, lost : int
        Judged; and those that could not be drawn or had no local model, which are left out.
    fails, by_tables : Share
        Of the same bows those that break or split at a knot or patch at full draw, by their own
        models and by the tables.
    off, bias : float
        Standard deviation and mean of the logarithm of the highest strength used at a zone, own
        over tables.
    """

    bows: int
    lost: int
    fails: Share
    by_tables: Share
    off: float
    bias: float

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers."""
        return {
            "bows": self.bows,
            "lost": self.lost,
            "chance": self.fails.to_dict(),
            "chance_by_tables": self.by_tables.to_dict(),
            "own_over_tables_scatter": self.off,
            "own_over_tables": float(np.exp(self.bias)),
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chance:
    """How likely a bow holds, what it draws, and what to measure next.

    Attributes
    ----------
    title : str
    samples, seed : int
    zones : tuple of str
        Knots and patches that were judged.
    draw_length : float, m
    held : float or None, m
        What it has been drawn to before without harm.
    told : Told or None
        What readings of it say, where there were any; all else is given these.
    surviving : Share
        Of all bows of this wood those that would have.
    draw_weight, kept : Spread, N and m
        At full draw; the set.
    arrow : float, kg
        The case's, or ten grains a pound of its draw weight.
    speed : Spread or None, m/s
        Of that arrow; None where the shot of the case's bow cannot be followed.
    chances : mapping of str to Share
        ``any``; ``split``, ``rupture`` (both at a knot or patch), ``clear_wood``; ``frets``.
    rare : mapping of str to float
        Coefficients of variation of those that were found by subset simulation.
    by_draw : mapping of str to ndarray
        ``draw_length``, m, and ``any``, ``any_low``, ``any_high``; ``all``: of bows that have not
        been drawn before.
    first : mapping of str to Share
        Of the bows that fail by the end of the way, which way comes first.
    place : ndarray, shape (S,), and starts : ndarray, shape (S,)
        Stations (m) and share of the breaks of clear wood that start there.
    fan : mapping of str to ndarray
        Draw length (m) and force (N) ``low``, ``middle``, ``high``: 5, 50 and 95 in 100.
    indices : mapping
        Result to input to `Index`.
    steps : tuple of Step
    quick : mapping of str to float
        What a bow drawn in full lies off the quick one: ``draw_weight`` and ``strength_used``
        (shares), ``set`` (m); ``drawn`` and ``failed``, bows.
    when_braced : tuple of str or Sentence
        Where the bow of the case breaks or gives way while it is braced.
    cautions, assumptions
    local : Local or None
        What local models of sampled bows say, where it was asked for.
    """

    title: str
    samples: int
    seed: int
    zones: tuple[str, ...]
    draw_length: float
    held: float | None
    told: Told | None
    surviving: Share
    draw_weight: Spread
    kept: Spread
    arrow: float
    speed: Spread | None
    chances: Mapping[str, Share]
    rare: Mapping[str, float]
    by_draw: Mapping[str, Array]
    first: Mapping[str, Share]
    place: Array
    starts: Array
    fan: Mapping[str, Array]
    indices: Mapping[str, Mapping[str, Index]]
    steps: tuple[Step, ...]
    quick: Mapping[str, float]
    when_braced: tuple[Words, ...]
    cautions: tuple[Words, ...]
    assumptions: tuple[Assumption, ...]
    local: Local | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        by_draw = {name: _list(values) for name, values in self.by_draw.items()}
        return {
            "case": self.title,
            "version": __version__,
            "samples": self.samples,
            "seed": self.seed,
            "zones": list(self.zones),
            "draw_length_mm": 1e3 * self.draw_length,
            "held_mm": None if self.held is None else 1e3 * self.held,
            **({} if self.told is None else {"told_by_readings": self.told.to_dict()}),
            "surviving": self.surviving.to_dict(),
            "draw_weight_N": self.draw_weight.to_dict(),
            "set_mm": self.kept.to_dict(1e3),
            "arrow_mass_g": 1e3 * self.arrow,
            "arrow_speed_m_per_s": None if self.speed is None else self.speed.to_dict(),
            "chance": {name: one.to_dict() for name, one in self.chances.items()},
            "rare_scatter": dict(self.rare),
            "by_draw": {
                "draw_length_mm": _list(1e3 * self.by_draw["draw_length"]),
                **{name: values for name, values in by_draw.items() if name != "draw_length"},
            },
            "first_to_fail": {name: one.to_dict() for name, one in self.first.items()},
            "starts": {"station_mm": _list(1e3 * self.place), "share": _list(self.starts)},
            "fan": {
                "draw_length_mm": _list(1e3 * self.fan["draw_length"]),
                **{f"{name}_N": _list(self.fan[name]) for name in ("low", "middle", "high")},
            },
            "indices": {
                result: {name: one.to_dict() for name, one in found.items()}
                for result, found in self.indices.items()
            },
            "measure_next": [
                {"what": str(one.what), "of": one.of, "takes_away": one.less} for one in self.steps
            ],
            "quick_bow": dict(self.quick),
            **({} if self.local is None else {"judged_locally": self.local.to_dict()}),
            "when_braced": [str(one) for one in self.when_braced],
            "cautions": [str(one) for one in self.cautions],
            "assumptions": [str(one.words()) for one in self.assumptions],
            "assumptions_table": [one.to_dict() for one in self.assumptions],
        }

    def rows(self) -> list[Row]:
        """Return the chance against draw length, a row each."""
        table = self.to_dict()["by_draw"]
        return [dict(zip(table, values, strict=True)) for values in zip(*table.values(),
                                                                       strict=True)]  # fmt: skip


def _list(values: Array) -> list[float]:
    return [float(value) for value in np.asarray(values)]
