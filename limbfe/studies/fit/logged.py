"""What a tillering log tells: its days, and what changed from one to the next."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any

from limbfe.rows import Row
from limbfe.units import Words


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoggedSession:
    """One day of the log.

    Attributes
    ----------
    date : date
    furthest : float or None, m
        The longest draw that was weighed, and
    force : float or None, N
        what was read there.
    weight, weight_scatter : float or None, N
        What the fitted bow pulls at the draw that all fitted sessions reached.
    set, moisture : float or None
        m, and a fraction.
    stiffness : tuple of float, or None
        Of the lower and the upper limb over that of the case; None for a day of too few readings.
    """

    date: datetime.date
    furthest: float | None
    force: float | None
    weight: float | None
    weight_scatter: float | None
    set: float | None
    moisture: float | None
    stiffness: tuple[float, float] | None

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        lower, upper = self.stiffness or (None, None)
        return {
            "date": self.date.isoformat(),
            "furthest_draw_mm": None if self.furthest is None else 1e3 * self.furthest,
            "draw_force_there_N": self.force,
            "draw_force_N": self.weight,
            "draw_force_scatter_N": self.weight_scatter,
            "set_mm": None if self.set is None else 1e3 * self.set,
            "moisture_percent": None if self.moisture is None else 100.0 * self.moisture,
            "stiffness_over_case": {"lower": lower, "upper": upper},
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SessionLog:
    """All days of a log, and what changed from one fitted day to the next.

    Attributes
    ----------
    common : float, m
        The draw at which the weights are compared.
    sessions : tuple of LoggedSession
    changes : tuple of (date, sentences)
        For every day but the first of those that can be compared.
    """

    common: float
    sessions: tuple[LoggedSession, ...]
    changes: tuple[tuple[datetime.date, tuple[Words, ...]], ...]

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers and text with the unit in every key."""
        return {
            "compared_at_mm": 1e3 * self.common,
            "sessions": [one.to_dict() for one in self.sessions],
            "changes": [
                {"date": date.isoformat(), "said": [str(line) for line in said]}
                for date, said in self.changes
            ],
        }

    def rows(self) -> list[Row]:
        """Return the sessions, a row each."""
        return [one.to_dict() for one in self.sessions]
