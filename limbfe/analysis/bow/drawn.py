"""What a draw hands on: poses, draw curve, tips and tiller, in SI, and its part of the contract."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.analysis.bow.setup import BowSetup
from limbfe.analysis.bow.string_lies import LyingString, told
from limbfe.analysis.bow.upper_limb import UpperLimb
from limbfe.frames import Array
from limbfe.rows import Row, rows_of_columns
from limbfe.units import IMPERIAL, Words
from limbfe.version import __version__
from limbfe.wood.source import Assumption


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pose:
    """The bow in one state, in global axes (X towards the archer, Z up).

    Attributes
    ----------
    name : str
        ``"unstrung"``, ``"braced"`` or ``"drawn"``; ``"unstrung after the draw"``.
    draw_length : float
        From the back at the middle of the grip to the string along the pull (m); 0 if unstrung.
    node_x : ndarray, shape (n,), m
        Where the nodes lie along the bow, lower tip to upper tip.
    positions : ndarray, shape (n, 3), m
        The mid-thickness axis at the nodes.
    rotations : ndarray, shape (n, 3, 3)
        Columns are the section axes x, y, z in global axes.
    string : ndarray, shape (k, 3), m
        The string from lower nock to upper nock; empty when unstrung.
    """

    name: str
    draw_length: float
    node_x: Array
    positions: Array
    rotations: Array
    string: Array


LAST = 0.125
"""End of the draw, over the whole since brace, at which its smoothness is read."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawCurve:
    """The draw, state by state from brace to full draw; every array has shape (k,).

    Attributes
    ----------
    draw_length : m, from the back at the middle of the grip along the pull, at brace too
    travel : m, what the pull does work over, from 0 at brace: the area under the force over it is
        the energy; of a bow held by hand, which turns in it, a little less than draw length grows
    force : N, pull on the string
    tension : ndarray, shape (k, 2), N, lower and upper part of the string
    energy : J, work of the pull since brace; what the belly's yielding takes is in it
    """

    draw_length: Array
    travel: Array
    force: Array
    tension: Array
    energy: Array

    @property
    def last_eighth(self) -> tuple[float, float]:
        """Length of the last eighth of the draw since brace, m, and the force that it adds, N.

        Of a force that rises evenly that is an eighth of the draw weight; more is stacking.
        """
        part = LAST * float(self.draw_length[-1] - self.draw_length[0])
        before = float(np.interp(self.draw_length[-1] - part, self.draw_length, self.force))
        return part, float(self.force[-1]) - before


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tip:
    """Where a limb tip stands at full draw (m, global axes), and its `Tiller.tip_twist` (rad)."""

    position: Array
    twist: float

    def to_dict(self) -> dict[str, float]:
        """Return plain numbers with the unit in every key."""
        x, y, z = as_list(self.position, 1e3)
        return {"x_mm": x, "y_mm": y, "z_mm": z, "twist_deg": math.degrees(self.twist)}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tiller:
    """What the trade reads off a bow in one state; pairs are (lower, upper).

    Attributes
    ----------
    tiller : float, m
        Distance of the upper limb from the string less that of the lower, half-way along the
        limbs; positive when the upper limb stands further off.
    tip_twist : ndarray, shape (2,), rad
        About the tips' own axes since the unstrung bow, in the bow's own frame: how it is turned in
        the hand does not count.
    tip_shift : ndarray, shape (2,), m, to the archer's right
    track : float, m
        Where the string crosses the grip, to the right of its middle.
    balance : float or None, m
        Height at which the line of pull crosses the grip, above where it is held; None at brace.
    """

    tiller: float
    tip_twist: Array
    tip_shift: Array
    track: float
    balance: float | None

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        lower, upper = (float(np.degrees(v)) for v in self.tip_twist)
        left, right = as_list(self.tip_shift, 1e3)
        return {
            "tiller_mm": self.tiller * 1e3,
            "tip_twist_deg": {"lower": lower, "upper": upper},
            "tip_shift_mm": {"lower": left, "upper": right},
            "string_track_mm": self.track * 1e3,
            "balance_mm": None if self.balance is None else self.balance * 1e3,
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeptSet:
    """How far the tips stay behind (string follow), towards the archer; pairs are (lower, upper).

    Attributes
    ----------
    at_once, rested : ndarray, shape (2,), m
        A minute after unstringing; after a night's rest.
    low, high : float or None, m
        Of the mean of both tips after rest: one standard deviation of what the wood's crushing
        strength may be beside its stiffness, and of the law, either way.  None where the weaker
        wood cannot be drawn so far, or no bounds were asked for.
    residual : ndarray, shape (S, 6)
        Strains the sections keep after rest.
    unstrung : Pose
        After rest.
    """

    at_once: Array
    rested: Array
    low: float | None
    high: float | None
    residual: Array
    unstrung: Pose

    @property
    def mean(self) -> float:
        """Of both tips after rest, m."""
        return float(self.rested.mean())

    def to_dict(self) -> dict[str, Any]:
        """Return the two parts as the contract has them."""

        def tips(pair: Array) -> dict[str, float | None]:
            lower, upper = (1e3 * float(value) for value in pair)
            return {"upper": upper, "lower": lower}

        low, high = (None if v is None else 1e3 * v for v in (self.low, self.high))
        return {
            "set_mm": {**tips(self.rested), "low": low, "high": high},
            "set_at_once_mm": tips(self.at_once),
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FirstPull:
    """The new bow, drawn straight to full draw for the first time.

    Attributes
    ----------
    string_length : float, m
        Unstretched; once exercised the string is adjusted to the same brace height.
    curve : DrawCurve
    crushed : float, J
        What crushing took of the work of the draw, that of the bracing apart.
    """

    string_length: float
    curve: DrawCurve
    crushed: float

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        return {
            "string_length_mm": self.string_length * 1e3,
            "draw_length_mm": as_list(self.curve.draw_length, 1e3),
            "draw_force_N": as_list(self.curve.force),
            "draw_weight_N": float(self.curve.force[-1]),
            "draw_energy_J": float(self.curve.energy[-1]),
            "energy_lost_J": self.crushed,
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnBow:
    """One bow unstrung, braced and drawn, exercised unless it is said that it could not be.

    Attributes
    ----------
    setup : BowSetup
    poses : tuple of Pose
        Unstrung, braced, drawn.
    brace_height, string_length : float, m
        `string_length` is that of the unstretched string between the nocks.
    brace_tension : float, N
    brace_energy : float, J
    curve : DrawCurve
    lower_tip, upper_tip : Tip
    cautions : tuple of str or Sentence
    assumptions : tuple of Assumption
    tiller_braced, tiller_drawn : Tiller or None
    kept : KeptSet or None
        The set; None where it was not asked for.
    first_pull : FirstPull or None
    lost : float or None, J
        Of the work of the draw, what the exercised bow does not give back when it is let down:
        what is still crushed, and what the wood turns to heat; the string's own loss and the
        shot's are not in it.
    when_braced : tuple of str or Sentence
        Where the bow breaks or gives way while it is braced; told before everything else.
    upper_limb : UpperLimb or None
        Which end the figures favour as the upper limb.
    string_lies : pair of LyingString or None
        Where the string lies on the lower and the upper limb; None where it never does.
    free_string : ndarray, shape (k,), m, or None
        How much of the string touches nothing, in the states of the curve.
    force_to_string : float or None, N
        At right angles to the bow, on each tip, that bends it as far as its string needs.
    """

    setup: BowSetup
    poses: tuple[Pose, ...]
    brace_height: float
    string_length: float
    brace_tension: float
    brace_energy: float
    curve: DrawCurve
    lower_tip: Tip
    upper_tip: Tip
    cautions: tuple[Words, ...]
    assumptions: tuple[Assumption, ...]
    tiller_braced: Tiller | None = None
    tiller_drawn: Tiller | None = None
    kept: KeptSet | None = None
    first_pull: FirstPull | None = None
    lost: float | None = None
    when_braced: tuple[Words, ...] = ()
    upper_limb: UpperLimb | None = None
    string_lies: tuple[LyingString | None, LyingString | None] = (None, None)
    free_string: Array | None = None
    force_to_string: float | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return the results contract: plain numbers and text, with the unit in every key."""
        curve = self.curve
        weight = float(curve.force[-1])
        pound_force, _ = IMPERIAL.scale("force")
        return {
            "case": self.setup.title,
            "question": self.setup.question,
            "version": __version__,
            "brace": {
                "brace_height_mm": self.brace_height * 1e3,
                "string_length_mm": self.string_length * 1e3,
                "string_tension_N": self.brace_tension,
                "energy_J": self.brace_energy,
                "force_to_string_N": self.force_to_string,
            },
            "draw": {
                "draw_length_mm": as_list(curve.draw_length, 1e3),
                "travel_mm": as_list(curve.travel, 1e3),
                "draw_force_N": as_list(curve.force),
                "string_tension_N": as_list(curve.tension.mean(axis=1)),
                "energy_J": as_list(curve.energy),
                "free_string_mm": None
                if self.free_string is None
                else as_list(self.free_string, 1e3),
                "draw_weight_N": weight,
                "draw_weight_lbf": weight / pound_force,
                "draw_energy_J": float(curve.energy[-1]),
                "last_eighth_share": curve.last_eighth[1] / weight,
                "energy_lost_J": self.lost,
            },
            "first_pull": _told(self.first_pull),
            **(
                {"set_mm": None, "set_at_once_mm": None}
                if self.kept is None
                else self.kept.to_dict()
            ),
            "tips": {"upper": self.upper_tip.to_dict(), "lower": self.lower_tip.to_dict()},
            "tiller": {"braced": _told(self.tiller_braced), "drawn": _told(self.tiller_drawn)},
            "upper_limb": _told(self.upper_limb),
            "string_lies": told(self.string_lies),
            "when_braced": [str(one) for one in self.when_braced],
            "cautions": [str(caution) for caution in (*self.when_braced, *self.cautions)],
            "assumptions": [str(one.words()) for one in self.assumptions],
            "assumptions_table": [one.to_dict() for one in self.assumptions],
        }

    def rows(self) -> list[Row]:
        """Return the draw, a row a state, brace first."""
        return rows_of_columns(self.to_dict()["draw"])


def _told(part: Tiller | FirstPull | UpperLimb | None) -> dict[str, Any] | None:
    return None if part is None else part.to_dict()


def as_list(values: Array, scale: float = 1.0) -> list[float]:
    """Return plain numbers for the contract."""
    return [float(value) for value in np.asarray(values) * scale]
