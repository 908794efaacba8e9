"""What a rule of thumb is, and what a sweep over many bows finds of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.frames import Array
from limbfe.rows import Row, rows_of_columns
from limbfe.units import Words

Show = Literal["ratio", "per cent", "used", "share", "factor", "length", "inches", "slope"]
Outcome = Literal["holds", "holds within", "fails beyond", "fails"]
Trial = Callable[[SolvedBow, float], dict[str, float]]
"""From a bow of the family and a value of what is varied to ``measure`` and further figures."""

COMMON_PRACTICE = "common practice"

PERCENTILES = ("percentile_5", "median", "percentile_95")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rule:
    """One rule of thumb, the claim it makes in numbers, and how it is tried on one bow.

    Attributes
    ----------
    name : str
        One word for the command line.
    words : str
        The rule as a bowyer would say it.
    label : str
        Where it comes from: ``common practice`` or a published source with its flag.
    study : str or Sentence
        What is done to every bow, and what is compared.
    varied : str
        What is swept.
    values : tuple of float
        From gentle to hard.
    at : float
        The value the rule speaks of; one of `values`.
    show_value : str
        How a value is written.
    measured : str
        What is measured.
    show_measure : str
        How it is written.
    low, high : float
        The rule is met where the measure lies between them.
    target : float or None
        What the rule says the measure is; None for a rule that only sets a bound.
    loose : float
        How far from `target` 95 of 100 bows may lie for the rule still to hold "within so much".
    trial : callable
    why : str
        The mechanics behind the outcome, in one sentence.
    """

    name: str
    words: str
    label: str
    study: Words
    varied: str
    values: tuple[float, ...]
    at: float
    show_value: Show
    measured: str
    show_measure: Show
    low: float
    high: float
    target: float | None
    loose: float
    trial: Trial
    why: str

    def met(self, measure: Array) -> Array:
        """Return 1 where the rule is met, 0 where not, nan where the bow could not be tried."""
        inside = (measure >= self.low) & (measure <= self.high)
        result: Array = np.where(np.isfinite(measure), inside.astype(np.float64), np.nan)
        return result

    def to_dict(self) -> dict[str, Any]:
        """Return what the rule says and how it is tried."""
        return {
            "name": self.name,
            "rule": self.words,
            "label": self.label,
            "study": str(self.study),
            "varied": self.varied,
            "values": list(self.values),
            "at": self.at,
            "measured": self.measured,
            "claim": [_plain(self.low), _plain(self.high)],
            "target": self.target,
            "loose": self.loose,
            "why": self.why,
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BowSample:
    """One rule tried on one bow.

    Attributes
    ----------
    bow : str
        Title of the bow.
    measure : ndarray, shape (k,)
        For each of the rule's values; nan where the changed bow cannot be drawn.
    figures : tuple of mapping, length k
        What else was measured.
    """

    bow: str
    measure: Array
    figures: tuple[Mapping[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RuleFinding:
    """What a sweep found of one rule.

    Attributes
    ----------
    rule : Rule
    samples : tuple of BowSample
    bows : int
        How many could be tried at the rule's own value.
    outcome : {"holds", "holds within", "fails beyond", "fails"}
    share : ndarray, shape (k,)
        Of the bows that meet the rule, for each value.
    low, median, high : ndarray, shape (k,)
        5th, 50th and 95th percentile of the measure.
    worst : int
        Index of the sample farthest outside the claim (or nearest to leaving it).
    within : float or None
        Distance from the target that 95 of 100 bows keep, where the rule has a target.
    reach : int or None
        Index of the last value up to which the rule is met in 95 of 100 bows, None if it never is.
    """

    rule: Rule
    samples: tuple[BowSample, ...]
    bows: int
    outcome: Outcome
    share: Array
    low: Array
    median: Array
    high: Array
    worst: int
    within: float | None
    reach: int | None

    @property
    def own(self) -> int:
        """Index of the value the rule speaks of."""
        return self.rule.values.index(self.rule.at)

    def figure(self, name: str) -> Array:
        """Return one further figure of every bow, shape (bows, k); nan where there is none."""
        return np.array([[one.get(name, np.nan) for one in s.figures] for s in self.samples])

    def rows(self) -> list[Row]:
        """Return what was found at every value, a row each."""
        told = self.to_dict()
        columns = {"value": told["values"]}
        columns |= {name: told[name] for name in ("share_met", *PERCENTILES)}
        return [{"rule": self.rule.name, **row} for row in rows_of_columns(columns)]

    def to_dict(self) -> dict[str, Any]:
        """Return everything; figures that could not be found are None."""
        rule = self.rule
        return {
            **rule.to_dict(),
            "bows": self.bows,
            "verdict": self.outcome,
            "within": self.within,
            "holds_up_to": None if self.reach is None else rule.values[self.reach],
            "share_met": _list(self.share),
            "percentile_5": _list(self.low),
            "median": _list(self.median),
            "percentile_95": _list(self.high),
            "worst_bow": self.samples[self.worst].bow,
            "samples": [
                {"bow": s.bow, "measure": _list(s.measure), "figures": list(map(dict, s.figures))}
                for s in self.samples
            ],
        }


def _list(values: Array) -> list[float | None]:
    return [_plain(float(value)) for value in values]


def _plain(value: float) -> float | None:
    """Return a number that JSON has; None for infinite bounds and missing figures."""
    return value if np.isfinite(value) else None
