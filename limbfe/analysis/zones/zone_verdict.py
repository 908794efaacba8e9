"""What full draw does at one knot or decayed patch, as the results hand it on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from limbfe.failure.measured import Kept
from limbfe.failure.splits.grain_split import Course
from limbfe.failure.verdict import Verdict
from limbfe.stave.marks import Limb
from limbfe.stave.zone_label import ZoneKind
from limbfe.units import Words


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneVerdict:
    """One knot or decayed patch: what the full draw does there.

    `state` is a knot's own word for what it is, None for decay; `fate` says whether it lies whole
    in the finished limb, is "cut" by its edge or "gone" from it; `together` names the zones that
    take up the same wood, which have this verdict in common.  Draw lengths are None when the event
    is not expected within the range that was computed; that of a split is where one is first to be
    seen, short as it may stay.  `strength_ratio` is the breaking load of the limb with the zone
    over that without it, `tension_ratio` the same of the strength in tension alone;
    `strength_used` is that of what breaks it, fibres or a split, 1 where that is expected;
    `wrinkling_used` how far the belly there is shortened over that from which wrinkles may show;
    `failure_probability` what the zone adds to that of the limb without it.  `kept` is what
    measured pieces with such knots kept of their load; None for patches.
    """

    name: str
    kind: ZoneKind
    limb: Limb
    at: float
    verdict: Verdict
    mode: str
    strength_used: float
    strength_used_low: float
    strength_used_high: float
    wrinkling_used: float
    draw_length_at_split: float | None
    draw_length_at_rupture: float | None
    strength_ratio: float
    tension_ratio: float
    failure_probability: float
    limb_failure_probability: float
    split_length: float | None
    split_course: Course
    kept: Kept | None
    advice: Words
    state: str | None = None
    fate: str = "whole"
    together: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """Its kind and name, of a hole how it came, and whether it is gone."""
        told = "gone" if self.fate == "gone" else self.state
        return f"{self.kind} {self.name}{f' ({told})' if told in _TOLD else ''}"

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        return {
            "name": self.name,
            "kind": self.kind,
            "state": self.state,
            "fate": self.fate,
            "together": list(self.together),
            "limb": self.limb,
            "at_mm": self.at * 1e3,
            "verdict": self.verdict,
            "mode": self.mode,
            "strength_used": self.strength_used,
            "strength_used_low": self.strength_used_low,
            "strength_used_high": self.strength_used_high,
            "wrinkling_used": self.wrinkling_used,
            "draw_length_at_split_mm": _mm(self.draw_length_at_split),
            "draw_length_at_rupture_mm": _mm(self.draw_length_at_rupture),
            "strength_ratio": self.strength_ratio,
            "tension_ratio": self.tension_ratio,
            "measured_ratio": None if self.kept is None else self.kept.mean,
            "measured_ratio_sd": None if self.kept is None else self.kept.deviation,
            "failure_probability": self.failure_probability,
            "limb_failure_probability": self.limb_failure_probability,
            "split_length_mm": _mm(self.split_length),
            "split_course": self.split_course,
            "advice": str(self.advice),
        }


_TOLD = ("missing", "drilled", "gone")


def _mm(length: float | None) -> float | None:
    return None if length is None else length * 1e3
