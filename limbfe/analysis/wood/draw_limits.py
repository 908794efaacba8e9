"""How far a bow can be drawn: where its belly yields, where clear wood fails, where it ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.limit_search import BREAKING, KINDS, DrawLimit, DrawSearch, EndKind
from limbfe.rows import Row, flat_row


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawLimits:
    """How far the limb of clear wood can be drawn; knots and decay are not looked at.

    Attributes
    ----------
    belly_yields : DrawLimit or None
    failures : tuple of DrawLimit
        Every other event that comes about, the first first.
    end : {"break", "stability", "equilibrium", "string"}
        Why the search ended: clear wood is expected to part; beyond `end_at` the bow kicks to
        the side or over; beyond it there is no equilibrium; the string can be drawn no further.
    end_at, end_force : float, m, N
    """

    belly_yields: DrawLimit | None
    failures: tuple[DrawLimit, ...]
    end: EndKind
    end_at: float
    end_force: float

    @property
    def breaks(self) -> DrawLimit | None:
        """The first failure that ends the limb: one of `limit_search.BREAKING`."""
        return next((limit for limit in self.failures if limit.kind in BREAKING), None)

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        return {
            "belly_yields": None if self.belly_yields is None else _limit(self.belly_yields),
            "failures": [_limit(limit) for limit in self.failures],
            "end": {
                "reason": self.end,
                "draw_length_mm": 1e3 * self.end_at,
                "draw_force_N": self.end_force,
            },
        }

    def rows(self) -> list[Row]:
        """Return the events on the way, a row each."""
        return [flat_row(one) for one in self.to_dict()["failures"]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BreakingDraw:
    """How far the limb of clear wood can be drawn before it ends; knots and decay apart.

    Attributes
    ----------
    breaks : DrawLimit or None
        The first event that ends the limb; None if the bow ends otherwise.
    end, end_at, end_force
        As in `DrawLimits`.
    """

    breaks: DrawLimit | None
    end: EndKind
    end_at: float
    end_force: float

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        limit = self.breaks
        place = {} if limit is None else _limit(limit)
        keys = ("limb", "at_mm", "face", "draw_force_N", "stress_MPa", "strain")
        return {
            "breaking_draw_length_mm": place.get("draw_length_mm"),
            "mode": place.get("kind"),
            **{key: place.get(key) for key in keys},
            "end": self.end,
            "end_draw_length_mm": 1e3 * self.end_at,
        }


def _limit(limit: DrawLimit) -> dict[str, Any]:
    spot = limit.spot
    return {
        "kind": limit.kind,
        "draw_length_mm": 1e3 * limit.draw_length,
        "draw_force_N": limit.force,
        "when_braced": limit.when_braced,
        "limb": spot.limb,
        "at_mm": 1e3 * spot.at,
        "across_mm": 1e3 * spot.across,
        "depth_mm": 1e3 * spot.depth,
        "face": spot.face,
        "stress_MPa": 1e-6 * spot.stress,
        "strain": spot.strain,
    }


def draw_limits(solved: SolvedBow) -> DrawLimits:
    """Draw a solved bow on until clear wood parts or the bow can be drawn no further.

    Parameters
    ----------
    solved : SolvedBow
        From `limbfe.analysis.bow.solve.solve_bow`.

    Returns
    -------
    DrawLimits
        Draw lengths to `limbfe.analysis.wood.limit_search.ACCURACY`.

    Notes
    -----
    Strength used in the limb grows with the draw, so each event is bracketed between two known
    states and its draw length found by Brent's method at the place it happens; that no other place
    is there earlier is then checked on the whole limb.
    """
    search = DrawSearch(solved)
    end, end_at, end_force = search.draw_on()
    found = [limit for kind in KINDS if (limit := search.first(kind)) is not None]
    failures = [limit for limit in found if limit.kind != "yield"]
    return DrawLimits(
        belly_yields=next((limit for limit in found if limit.kind == "yield"), None),
        failures=tuple(sorted(failures, key=lambda limit: limit.draw_length)),
        end=end,
        end_at=end_at,
        end_force=end_force,
    )


def breaking_draw(solved: SolvedBow) -> BreakingDraw:
    """Draw a solved bow on until clear wood parts, or there is no further; see `draw_limits`."""
    search = DrawSearch(solved)
    end, end_at, end_force = search.draw_on()
    found = [limit for kind in BREAKING if (limit := search.first(kind)) is not None]
    first = min(found, key=lambda limit: limit.draw_length, default=None)
    return BreakingDraw(breaks=first, end=end, end_at=end_at, end_force=end_force)
