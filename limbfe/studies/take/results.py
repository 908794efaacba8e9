"""What to take off next, line after line, and the bow it leaves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from limbfe.rows import Row
from limbfe.units import IMPERIAL, Words
from limbfe.version import __version__

Side = Literal["belly", "sides"]
TILLER = (0.0, 0.006)
"""Of the braced bow, m: the upper limb as far off the string as the lower, or up to 1/4 in further,
which suits a hand with the arrow above it (common practice)."""

RULER = 0.0015
"""How far (m) the tiller may be out: a ruler on a braced bow tells no less."""
EYE = 0.004
"""How far (m) out it may get from one line to the next before they are done in turns."""


def out_of_tiller(tiller: float) -> float:
    """Return how far a tiller lies out of `TILLER`, m."""
    low, high = TILLER
    return max(low - tiller, tiller - high, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """A bow between two lines of the list: weight (N), tiller (m) and the hardest worked wood.

    The tiller is that of the braced bow, positive where the upper limb stands further off.
    """

    draw_weight: float
    tiller: float
    strength_used: float
    worst_at: float

    def to_dict(self) -> dict[str, float]:
        """Return plain numbers with the unit in every key."""
        return {
            "draw_weight_N": self.draw_weight,
            "draw_weight_lbf": self.draw_weight / IMPERIAL.scale("force")[0],
            "tiller_braced_mm": 1e3 * self.tiller,
            "strength_used": self.strength_used,
            "strength_used_at_mm": 1e3 * self.worst_at,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One thing to do.

    Attributes
    ----------
    limb : {"upper", "lower"}
    side : {"belly", "sides"}
    start, end : float, m
        From the grip: between them the whole amount comes off.
    fades : tuple of float or None, m
        Where it has faded out towards the grip and towards the tip; None where it ends there.
    steps : int
        Of the tool; on the sides so many on each.
    amount : float, m
        That many steps.
    left : Left
        The bow after this line and those before it.
    """

    limb: Literal["upper", "lower"]
    side: Side
    start: float
    end: float
    fades: tuple[float | None, float | None]
    steps: int
    amount: float
    left: Left

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers and words with the unit in every key."""
        inner, outer = (None if one is None else 1e3 * one for one in self.fades)
        return {
            "limb": self.limb,
            "face": self.side,
            "from_mm": 1e3 * self.start,
            "to_mm": 1e3 * self.end,
            "fades_out_inwards_at_mm": inner,
            "fades_out_outwards_at_mm": outer,
            "tool_steps": self.steps,
            "off_mm": 1e3 * self.amount,
            "left": self.left.to_dict(),
        }


@dataclass(frozen=True, slots=True)
class Harder:
    """A knot or patch that works harder after the lines, and stays sound: strength used."""

    name: str
    before: float
    after: float

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers."""
        return {
            "name": self.name,
            "strength_used_before": self.before,
            "strength_used_after": self.after,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Taking:
    """What to take off next.

    Attributes
    ----------
    title : str
    target : float, N
        The draw weight wanted in the end.
    stop : float, N
        Where to stop taking wood: a little above the target, which exercise then takes off.
    draw_length, exercise_to : float, m
        The draw of the weight, and how far to draw now: no further than the target's pull.
    step : float, m
        Of the tool.
    before : Left
    lines : tuple of Line
        In the order to do them; none where nothing may come off.
    turns : tuple of Left
        The bow after every round where the lines are to be done in turns, the same part of each
        line in every round; empty where one line is done after the other.
    turns_out : float, m
        How far out of `TILLER` the limbs are on the way of these rounds, where they are now
        counted in.
    harder : tuple of Harder
        Sound knots and patches that work harder afterwards, and stay sound.
    reason : str or Sentence
        Why there are no lines, or why they end above `stop`; empty if neither.
    kept_off : tuple of str
        Knots and patches at which no wood is taken.
    readings : str
        The file of readings that the bow was fitted to; empty where it is the case's.
    """

    title: str
    target: float
    stop: float
    draw_length: float
    exercise_to: float
    step: float
    before: Left
    lines: tuple[Line, ...]
    reason: Words
    kept_off: tuple[str, ...]
    readings: str
    turns: tuple[Left, ...] = ()
    turns_out: float = 0.0
    harder: tuple[Harder, ...] = ()

    @property
    def after(self) -> Left:
        """The bow when all of it is done."""
        return self.lines[-1].left if self.lines else self.before

    @property
    def way_out(self) -> float:
        """How far the tiller gets out if the lines are done one after the other, m.

        Coming back from where it was, 0.
        """
        low, high = min(self.before.tiller, TILLER[0]), max(self.before.tiller, TILLER[1])
        on_way = [line.left.tiller for line in self.lines[:-1]]
        return max([0.0, *(out_of_tiller(one) for one in on_way if not low <= one <= high)])

    @property
    def in_turns(self) -> bool:
        """Whether the lines are to be done in turns, a part of each in every round."""
        return bool(self.turns)

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers and words with the unit in every key."""
        pound = IMPERIAL.scale("force")[0]
        return {
            "case": self.title,
            "version": __version__,
            "readings_file": self.readings,
            "target_N": self.target,
            "target_lbf": self.target / pound,
            "stop_at_N": self.stop,
            "stop_at_lbf": self.stop / pound,
            "draw_length_mm": 1e3 * self.draw_length,
            "exercise_to_mm": 1e3 * self.exercise_to,
            "tool_step_mm": 1e3 * self.step,
            "tiller_wanted_mm": [1e3 * bound for bound in TILLER],
            "in_turns": self.in_turns,
            "turns": [left.to_dict() for left in self.turns],
            "out_of_tiller_in_turns_mm": 1e3 * self.turns_out if self.turns else None,
            "out_of_tiller_line_by_line_mm": 1e3 * self.way_out,
            "before": self.before.to_dict(),
            "lines": [line.to_dict() for line in self.lines],
            "reason": str(self.reason),
            "kept_off": list(self.kept_off),
            "worked_harder": [one.to_dict() for one in self.harder],
        }

    def rows(self) -> list[Row]:
        """Return the lines, a row each."""
        return [
            {key: value for key, value in line.to_dict().items() if key != "left"}
            | line.left.to_dict()
            for line in self.lines
        ]
