"""The verdict on a knot or patch in a shot: its back pulled farther, or its belly pulled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from limbfe.units import Words

if TYPE_CHECKING:  # a bow without knots is shot without their local models
    from limbfe.failure.verdict import Verdict

PULLED = 5e-4
"""Stretch of the belly from which a zone counts as pulled: a twentieth of what breaks clear wood (a
choice, on the careful side)."""
FARTHER = 1.03
"""Times as far as at full draw, from which on a back stretched in a shot is judged anew: less is
what a draw a few millimetres longer does (a choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reversal:
    """A knot or patch at the instant at which its belly, or its back, is stretched most.

    Attributes
    ----------
    name, label : str
    arrow : float, kg
        Of the shot that stretches it most; 0 without one.
    time : float, s
        Since the release.
    face : {"belly", "back"}
        Which is looked at: the one that leaves the zone worse off.
    stretched : float
        Of that face: the belly beyond its unstrung length, the back since the bow was new.
    raised : float
        Factor on the resultants for what the crushed belly is pulled by already; 1 for the back.
    verdict : str
        As of a zone in the draw, no milder than that at full draw; "not judged" where there is no
        local model.
    mode : str
        How it fails first; why it is not judged.
    at_full_draw : bool
        Whether verdict, mode and strength used are those of full draw, being the worse.
    rough : bool
        Whether the string had come down on a limb by then where it is not followed; then not sound.
    strength_used, strength_used_low, strength_used_high, failure_probability : float or None
    """

    name: str
    label: str
    arrow: float
    time: float
    stretched: float
    raised: float
    verdict: Verdict | str
    mode: str
    face: Literal["belly", "back"] = "belly"
    at_full_draw: bool = False
    rough: bool = False
    strength_used: float | None = None
    strength_used_low: float | None = None
    strength_used_high: float | None = None
    failure_probability: float | None = None

    @property
    def breaks(self) -> bool:
        """Whether it is expected to split or break, or nothing can be told."""
        return self.verdict not in ("sound", "watch")

    def words(self) -> Words:
        """Return the verdict as a caution."""
        start = f"{self.label}: {self._when} the {self.face} there is stretched by "
        start += f"{100.0 * self.stretched:.2f} %"
        start += " and the back pressed" if self.face == "belly" else ", farther than at full draw"
        if self.strength_used is None:
            return f"{start}; that could not be judged ({self.mode}): take it for breaking"
        used = f"{100.0 * self.strength_used:.0f} % of its strength used"
        if self.at_full_draw:
            start += "; it is worse off at full draw already"
        elif self.rough:
            start += "; roughly, as the string has struck the limbs by then"
        if self.verdict == "sound":
            return f"{start}: sound ({used})"
        return f"{start}: {self.verdict.upper()} ({self.mode}; {used})"

    @property
    def _when(self) -> str:
        if self.arrow == 0.0:
            return "without an arrow"
        return "after the arrow has left" if self.face == "belly" else "in the shot"

    def to_dict(self) -> dict[str, Any]:
        """Return the contract's part."""
        return {
            "name": self.name,
            "arrow_mass_g": 1e3 * self.arrow,
            "time_ms": 1e3 * self.time,
            "face": self.face,
            "belly_stretched": self.stretched if self.face == "belly" else None,
            "back_stretched": self.stretched if self.face == "back" else None,
            "load_raised_by": self.raised,
            "rough": self.rough,
            "at_full_draw": self.at_full_draw,
            "verdict": self.verdict,
            "mode": self.mode,
            "strength_used": self.strength_used,
            "strength_used_low": self.strength_used_low,
            "strength_used_high": self.strength_used_high,
            "failure_probability": self.failure_probability,
        }
